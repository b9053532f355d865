//! Values with units, preferred series, markings: pure functions.
