//! Types that can say what they are, so that the protocol page comes from the
//! very text that defines them.

/// What a type of the protocol is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TypeDoc {
    /// Its name.
    pub name: &'static str,
    /// What it means.
    pub doc: String,
    /// Its fields in order, for a record.
    pub fields: Vec<FieldDoc>,
    /// Its variants in order of their tag, for a choice.
    pub variants: Vec<VariantDoc>,
}

/// What one variant of a choice is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VariantDoc {
    /// Its name.
    pub name: &'static str,
    /// What it means.
    pub doc: String,
    /// Its fields in order.
    pub fields: Vec<FieldDoc>,
}

/// What one field is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldDoc {
    /// Its name.
    pub name: &'static str,
    /// Its type, as written.
    pub kind: &'static str,
    /// The module that bounds its length, if one does.
    pub bounded_by: Option<&'static str>,
    /// What it means, with its unit.
    pub doc: String,
}

/// Joins the lines of a doc comment.
pub(crate) fn join(lines: &[&str]) -> String {
    lines.iter().map(|l| l.trim()).collect::<Vec<_>>().join(" ")
}

/// Gives back the text it is given, or nothing.
macro_rules! optional_text {
    () => {
        None
    };
    ($text:literal) => {
        Some($text)
    };
}

/// Defines a record of the protocol, with its description and, in tests, a
/// sample maker.
macro_rules! wire_record {
    (
        $(#[doc = $doc:literal])+
        $(#[derive($($derive:ident),+)])?
        pub struct $name:ident {
            $(
                $(#[doc = $fdoc:literal])+
                $(#[serde(with = $with:literal)])?
                pub $field:ident: $kind:ty,
            )*
        }
    ) => {
        $(#[doc = $doc])+
        #[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
        $(#[derive($($derive),+)])?
        #[cfg_attr(test, derive(wincode::SchemaWrite, wincode::SchemaRead))]
        pub struct $name {
            $(
                $(#[doc = $fdoc])+
                $(#[serde(with = $with)])?
                pub $field: $kind,
            )*
        }

        impl $name {
            /// What this record is.
            pub fn describe() -> $crate::describe::TypeDoc {
                $crate::describe::TypeDoc {
                    name: stringify!($name),
                    doc: $crate::describe::join(&[$($doc),+]),
                    fields: vec![$($crate::describe::FieldDoc {
                        name: stringify!($field),
                        kind: stringify!($kind),
                        bounded_by: optional_text!($($with)?),
                        doc: $crate::describe::join(&[$($fdoc),+]),
                    }),*],
                    variants: Vec::new(),
                }
            }
        }

        #[cfg(test)]
        impl $crate::sample::Sample for $name {
            fn sample(dice: &mut $crate::sample::Dice) -> Self {
                Self { $($field: $crate::sample::Sample::sample(dice)),* }
            }
        }
    };
}

/// Defines a choice of the protocol, likewise. The tag of a variant is its
/// place in the list, so variants are only ever added at the end.
macro_rules! wire_choice {
    (
        $(#[doc = $doc:literal])+
        $(#[derive($($derive:ident),+)])?
        pub enum $name:ident {
            $(
                $(#[doc = $vdoc:literal])+
                $variant:ident $({
                    $(
                        $(#[doc = $fdoc:literal])+
                        $(#[serde(with = $with:literal)])?
                        $field:ident: $kind:ty,
                    )*
                })?,
            )+
        }
    ) => {
        $(#[doc = $doc])+
        #[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
        $(#[derive($($derive),+)])?
        #[cfg_attr(test, derive(wincode::SchemaWrite, wincode::SchemaRead))]
        pub enum $name {
            $(
                $(#[doc = $vdoc])+
                $variant $({
                    $(
                        $(#[doc = $fdoc])+
                        $(#[serde(with = $with)])?
                        $field: $kind,
                    )*
                })?,
            )+
        }

        impl $name {
            /// What this choice is.
            pub fn describe() -> $crate::describe::TypeDoc {
                $crate::describe::TypeDoc {
                    name: stringify!($name),
                    doc: $crate::describe::join(&[$($doc),+]),
                    fields: Vec::new(),
                    variants: vec![$($crate::describe::VariantDoc {
                        name: stringify!($variant),
                        doc: $crate::describe::join(&[$($vdoc),+]),
                        fields: vec![$($($crate::describe::FieldDoc {
                            name: stringify!($field),
                            kind: stringify!($kind),
                            bounded_by: optional_text!($($with)?),
                            doc: $crate::describe::join(&[$($fdoc),+]),
                        }),*)?],
                    }),+],
                }
            }
        }

        #[cfg(test)]
        impl $crate::sample::Sample for $name {
            fn sample(dice: &mut $crate::sample::Dice) -> Self {
                let makers: &[fn(&mut $crate::sample::Dice) -> Self] = &[
                    $(|_dice| Self::$variant $({
                        $($field: $crate::sample::Sample::sample(_dice)),*
                    })?),+
                ];
                let which = dice.below(makers.len());
                makers[which](dice)
            }
        }
    };
}
