//! Every picture as SVG.
