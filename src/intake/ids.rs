//! Identifiers of what the store keeps, each its own type.

/// Declares an identifier that the store gives out.
macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
        #[serde(transparent)]
        pub struct $name(i64);

        impl $name {
            /// From the number that [`Self::number`] gave or a person typed.
            #[must_use]
            pub const fn new(number: i64) -> Self {
                Self(number)
            }

            /// The number in the collection file.
            #[must_use]
            pub const fn number(self) -> i64 {
                self.0
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }

        impl std::str::FromStr for $name {
            type Err = std::num::ParseIntError;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                text.parse().map(Self)
            }
        }
    };
}
pub(crate) use id;

id! {
    /// A staged item.
    ItemId
}
id! {
    /// One recorded run of a command that wrote to the collection; what `undo` takes back.
    RunId
}
