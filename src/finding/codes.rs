//! Every kind of finding, in one list.

/// Declares the codes once: variant, stable number, short title.
macro_rules! codes {
    ($($variant:ident $number:literal $title:literal),* $(,)?) => {
        /// What kind of finding this is.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[non_exhaustive]
        pub enum Code {
            $(#[doc = $title] $variant),*
        }

        impl Code {
            /// All codes, in order.
            pub const ALL: &'static [Code] = &[$(Code::$variant),*];

            /// The stable name shown to people and scripts, such as `H101`.
            pub fn name(self) -> &'static str {
                match self { $(Code::$variant => $number),* }
            }

            /// A short title.
            pub fn title(self) -> &'static str {
                match self { $(Code::$variant => $title),* }
            }
        }
    };
}

// H1xx: the text itself; H2xx: what the circuit file means; H3xx: what the readings mean;
// H4xx: the circuit as a network; H5xx: values worth a second look.
codes! {
    Unreadable "H101" "the file cannot be read",
    NotToml "H102" "the text is not valid TOML",
    WrongShape "H103" "a key is unknown, missing, or holds the wrong kind of value",
    BadValue "H104" "a value cannot be understood",
    TooLarge "H105" "the input is larger than the stated limit",
}
