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
// H4xx: the circuit as a network; H5xx: values worth a second look;
// H6xx: the log of a session.
codes! {
    Unreadable "H101" "the file cannot be read",
    NotToml "H102" "the text is not valid TOML",
    WrongShape "H103" "a key is unknown, missing, or holds the wrong kind of value",
    BadValue "H104" "a value cannot be understood",
    TooLarge "H105" "the input is larger than the stated limit",
    Unquoted "H107" "a name with a point stands without quotes",

    UnknownKind "H201" "a kind of part is unknown",
    KindOpen "H202" "a part leaves its kind open",
    UnknownType "H203" "a part has an unknown type",
    BadPins "H204" "the pins of a part do not match its kind",
    BadParameter "H205" "the values of a part break a rule of its kind",
    ToleranceTwice "H206" "a value has two tolerances",
    NameForm "H207" "a name holds what names may not hold",
    NameTwice "H208" "a net and a part share a name",
    NameCase "H209" "two names differ only in upper and lower case",
    NoGround "H210" "no net is ground",
    UnknownName "H211" "a net or part is not in the circuit",
    BadSetup "H212" "a setup cannot be made as written",
    SameNet "H213" "both pins of a part are on one net",

    UnknownSetup "H301" "readings are of an unknown setup",
    UnknownQuantity "H302" "readings are of an unknown quantity",
    UnknownPlace "H303" "a reading is at an unknown place",
    PlaceUnfit "H304" "a quantity cannot be read at that place",
    PowerOn "H305" "a reading that needs the power off was taken with it on",
    DiodeLeads "H306" "a diode reading does not say where red was",
    Unobservable "H307" "a value does not fit its quantity",
    FewDigits "H308" "a value has so few digits that the last one dominates",
    BadCsv "H309" "the text is not a table of readings",

    SourceLoop "H401" "ideal sources form a loop",
    Floating "H402" "nets have no DC path to ground",
    LonePin "H403" "a pin is alone on its net",
    NoOperatingPoint "H404" "the board has no operating point",
    FaultPhrase "H405" "a fault cannot be understood",
    NoWayForCurrent "H406" "a current source has nowhere to send its current",
    InputFloats "H407" "an input of a chip floats",

    OddValue "H501" "a value is in no preferred series of its tolerance",
    RatingExceeded "H502" "a rating is exceeded on a healthy board",
    LimitBroken "H503" "a limit of a net is broken on a healthy board",
    PinOverdriven "H504" "a pin is over its absolute maximum on a healthy board",
    NeverStarts "H505" "a condition is not met on a healthy board",
    OutOfRegulation "H506" "a regulator cannot hold its set point on a healthy board",
    Marginal "H507" "a condition is met or missed within tolerances on a healthy board",
    PrefixDoubt "H508" "a prefix letter of a value may be a slip",

    LogUnwritten "H601" "the log of a session cannot be written",
    LogBusy "H602" "another session has the log open",
    LogChanged "H603" "the log was changed while a session had it open",
}
