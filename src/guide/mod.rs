#![doc = include_str!("guide.md")]

mod keys;
mod reference;

pub use keys::{CIRCUIT, Key, KeyTable, READINGS, READINGS_CSV, SHELF, STOCK, Words};
pub use reference::{files_markdown, kinds_chapter};

pub mod tutorial {
    #![doc = include_str!("tutorial.md")]
}

pub mod commands {
    #![doc = include_str!("commands.md")]
}

pub mod values {
    #![doc = include_str!("values.md")]
}

pub mod files {
    #![doc = include_str!("files.md")]
}

pub mod kinds {
    #![doc = include_str!("kinds.md")]
}

pub mod models {
    #![doc = include_str!("models.md")]
}

pub mod numbers {
    #![doc = include_str!("numbers.md")]
}

pub mod cases {
    #![doc = include_str!("cases.md")]
}
