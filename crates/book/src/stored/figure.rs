//! Decimal figures as they were, to the last bit: JSON has no word for those
//! that are no number, and a peer may have sent one.

use serde::de::{Error as _, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A figure; not finite ones are written as texts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Figure(pub f64);

impl Serialize for Figure {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        if self.0.is_finite() {
            s.serialize_f64(self.0)
        } else {
            s.collect_str(&self.0)
        }
    }
}

impl<'de> Deserialize<'de> for Figure {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct Either;
        impl Visitor<'_> for Either {
            type Value = f64;
            fn expecting(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
                f.write_str("a figure")
            }
            fn visit_f64<E>(self, v: f64) -> Result<f64, E> {
                Ok(v)
            }
            fn visit_i64<E>(self, v: i64) -> Result<f64, E> {
                Ok(v as f64)
            }
            fn visit_u64<E>(self, v: u64) -> Result<f64, E> {
                Ok(v as f64)
            }
            fn visit_str<E: serde::de::Error>(self, v: &str) -> Result<f64, E> {
                v.parse().map_err(|_| E::custom("no figure"))
            }
        }
        d.deserialize_any(Either)
            .map(Figure)
            .map_err(|e| D::Error::custom(e.to_string()))
    }
}
