//! An event is read where its kind and body lie, without a copy of either.

use super::event::Event;
use serde::Deserialize;
use serde::de::value::{BorrowedStrDeserializer, MapDeserializer};
use serde::de::{Deserializer, IntoDeserializer, Visitor};
use serde_json::Error;
use serde_json::de::StrRead;

type Text<'de> = serde_json::Deserializer<StrRead<'de>>;

/// One of the two parts.
enum Part<'a, 'de> {
    Kind(&'de str),
    Body(&'a mut Text<'de>),
}

/// The event of that kind and body (JSON); an error for one this program does not know.
pub(super) fn event(kind: &str, body: &str) -> Result<Event, Error> {
    let mut text = Text::from_str(body);
    let parts = [("kind", Part::Kind(kind)), ("body", Part::Body(&mut text))];
    let event = Event::deserialize(MapDeserializer::new(parts.into_iter()))?;
    text.end().map(|()| event)
}

impl<'de> IntoDeserializer<'de, Error> for Part<'_, 'de> {
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

impl<'de> Deserializer<'de> for Part<'_, 'de> {
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
