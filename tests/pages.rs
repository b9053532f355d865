//! The pages that the program writes: their markup, what they say, how they look and print.
//!
//! The tests that open pages in a browser are ignored unless asked for: `cargo test --test pages --
//! --ignored`, with Chromium on the path. Their pictures are kept under `target/tmp/pages`.

#[path = "pages/browser.rs"]
mod browser;
#[path = "pages/jobs.rs"]
mod jobs;
#[path = "pages/markup.rs"]
mod markup;
#[path = "pages/screens.rs"]
mod screens;
#[path = "pages/ticket.rs"]
mod ticket;
