//! A ship at sea to test against, with its own richer physics.
