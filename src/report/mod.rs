//! Text and JSON.
