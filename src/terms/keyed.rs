//! Enumerations whose variants are written once.

/// Makes an enumeration from its rows: each has a name in files, by which it is read and written, and
/// all or none have words for people behind `=>`.
macro_rules! keyed {
    ($(#[$about:meta])* $vis:vis enum $name:ident {
        $($(#[$each:meta])* $variant:ident = $key:literal $(=> $words:literal)?,)*
    }) => {
        $(#[$about])*
        #[derive(
            Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
        )]
        $vis enum $name {
            $($(#[$each])* #[serde(rename = $key)] $variant,)*
        }

        impl $name {
            /// All, in the order in which they are shown.
            pub const ALL: [Self; [$($key),*].len()] = [$(Self::$variant),*];

            /// The name in files.
            pub fn key(self) -> &'static str {
                match self {
                    $(Self::$variant => $key,)*
                }
            }

            /// What has this name in files.
            pub fn from_key(key: &str) -> Option<Self> {
                Self::ALL.into_iter().find(|v| v.key() == key)
            }
        }

        $crate::terms::keyed!(@words $name { $($variant $($words)?,)* });
    };
    (@words $name:ident { $($variant:ident,)* }) => {};
    (@words $name:ident { $($variant:ident $words:literal,)* }) => {
        impl $name {
            /// The name for people.
            pub fn words(self) -> &'static str {
                match self {
                    $(Self::$variant => $words,)*
                }
            }
        }
    };
}

pub(crate) use keyed;
