//! Holds the layout of the repository; see the tests.
