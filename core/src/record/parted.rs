//! An event is read where its kind and body lie: a hub reads every entry of a shop's day, and copies of bodies were the
//! larger part of that work.

use super::event::Event;
use serde::Deserialize;
use serde::de::value::{BorrowedStrDeserializer, MapDeserializer};
use serde::de::{Deserializer, IntoDeserializer, Visitor};
use serde_json::{Error, Value};

/// One of the two parts.
enum Part<'a> {
    Kind(&'a str),
    Body(&'a Value),
}

/// The event of that kind and body; an error for one this program does not know.
pub(super) fn event(kind: &str, body: &Value) -> Result<Event, Error> {
    let parts = [("kind", Part::Kind(kind)), ("body", Part::Body(body))];
    Event::deserialize(MapDeserializer::new(parts.into_iter()))
}

impl<'de> IntoDeserializer<'de, Error> for Part<'de> {
    type Deserializer = Self;
    fn into_deserializer(self) -> Self {
        self
    }
}

macro_rules! either {
    ($($method:ident($($name:ident: $of:ty),*);)*) => {
        $(fn $method<V: Visitor<'de>>(self, $($name: $of,)* visitor: V) -> Result<V::Value, Error> {
            match self {
                Part::Kind(kind) => BorrowedStrDeserializer::new(kind).$method($($name,)* visitor),
                Part::Body(body) => body.$method($($name,)* visitor),
            }
        })*
    };
}

impl<'de> Deserializer<'de> for Part<'de> {
    type Error = Error;

    either! {
        deserialize_any();
        deserialize_option();
        deserialize_newtype_struct(name: &'static str);
        deserialize_enum(name: &'static str, variants: &'static [&'static str]);
        deserialize_struct(name: &'static str, fields: &'static [&'static str]);
        deserialize_unit_struct(name: &'static str);
        deserialize_tuple_struct(name: &'static str, length: usize);
        deserialize_identifier();
        deserialize_ignored_any();
        deserialize_f32();
        deserialize_f64();
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 char str string bytes byte_buf unit seq tuple map
    }
}
