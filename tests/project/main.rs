//! The project itself: layers, licences, every message of the source.

mod architecture;
mod licences;
mod messages;
