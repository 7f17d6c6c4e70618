//! Values on their way into a statement and out of a row: what both databases have in common.

use super::error::{During, StorageError};

/// What a value is, also where there is none: PostgreSQL wants to know.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// A whole number, also yes (1) and no (0).
    Int,
    /// Text.
    Text,
    /// Bytes.
    Blob,
}

/// One value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Cell<'a> {
    /// None, of that kind.
    Null(Kind),
    /// A whole number.
    Int(i64),
    /// Text.
    Text(&'a str),
    /// Bytes.
    Blob(&'a [u8]),
}

/// Whatever can be put into a statement.
pub(super) trait Value {
    /// What it is.
    const KIND: Kind;
    /// It, as it is put in.
    fn cell(&self) -> Cell<'_>;
}

/// The values of one statement, in the order of their numbers.
pub(super) trait Values {
    /// Does `work` with all of them.
    fn with<R>(&self, work: impl FnOnce(&[Cell<'_>]) -> R) -> R;
}

/// Whatever can be read out of a column.
pub(super) trait Column: Sized {
    /// It; `None` where the column holds something else.
    fn of(cell: Cell<'_>) -> Option<Self>;
}

/// A column is not what it should be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Misread(pub String);

/// What was read of a row.
pub(super) type Read<T> = Result<T, Misread>;

impl<T> During<T> for Read<T> {
    fn during(self, during: &'static str) -> Result<T, StorageError> {
        self.map_err(|Misread(why)| StorageError::Failed { during, why })
    }
}

macro_rules! value {
    ($($type:ty, $kind:ident, $of:ident => $cell:expr;)*) => {
        $(impl Value for $type {
            const KIND: Kind = Kind::$kind;
            fn cell(&self) -> Cell<'_> {
                let $of = self;
                Cell::$kind($cell)
            }
        })*
    };
}

value! {
    i64, Int, of => *of;
    u32, Int, of => i64::from(*of);
    bool, Int, of => i64::from(*of);
    str, Text, of => of;
    String, Text, of => of;
    [u8], Blob, of => of;
    Vec<u8>, Blob, of => of;
}

impl<const N: usize> Value for [u8; N] {
    const KIND: Kind = Kind::Blob;
    fn cell(&self) -> Cell<'_> {
        Cell::Blob(self)
    }
}

impl<T: Value + ?Sized> Value for &T {
    const KIND: Kind = T::KIND;
    fn cell(&self) -> Cell<'_> {
        (**self).cell()
    }
}

impl<T: Value> Value for Option<T> {
    const KIND: Kind = T::KIND;
    fn cell(&self) -> Cell<'_> {
        self.as_ref().map_or(Cell::Null(T::KIND), Value::cell)
    }
}

impl Values for () {
    fn with<R>(&self, work: impl FnOnce(&[Cell<'_>]) -> R) -> R {
        work(&[])
    }
}

impl<const N: usize> Values for [Cell<'_>; N] {
    fn with<R>(&self, work: impl FnOnce(&[Cell<'_>]) -> R) -> R {
        work(self)
    }
}

impl Values for &[Cell<'_>] {
    fn with<R>(&self, work: impl FnOnce(&[Cell<'_>]) -> R) -> R {
        work(self)
    }
}

macro_rules! values {
    ($(($($name:ident)*);)*) => {
        $(impl<$($name: Value),*> Values for ($($name,)*) {
            #[allow(non_snake_case, reason = "a value is named like its type")]
            fn with<R>(&self, work: impl FnOnce(&[Cell<'_>]) -> R) -> R {
                let ($($name,)*) = self;
                work(&[$($name.cell()),*])
            }
        })*
    };
}

values! {
    (A);
    (A B);
    (A B C);
    (A B C D);
    (A B C D E);
    (A B C D E F);
    (A B C D E F G);
    (A B C D E F G H);
}

impl Column for i64 {
    fn of(cell: Cell<'_>) -> Option<i64> {
        if let Cell::Int(number) = cell { Some(number) } else { None }
    }
}

impl Column for u32 {
    fn of(cell: Cell<'_>) -> Option<u32> {
        i64::of(cell)?.try_into().ok()
    }
}

impl Column for u64 {
    fn of(cell: Cell<'_>) -> Option<u64> {
        i64::of(cell)?.try_into().ok()
    }
}

impl Column for usize {
    fn of(cell: Cell<'_>) -> Option<usize> {
        i64::of(cell)?.try_into().ok()
    }
}

impl Column for bool {
    fn of(cell: Cell<'_>) -> Option<bool> {
        i64::of(cell).map(|number| number != 0)
    }
}

impl Column for String {
    fn of(cell: Cell<'_>) -> Option<String> {
        if let Cell::Text(text) = cell { Some(text.to_owned()) } else { None }
    }
}

impl Column for Vec<u8> {
    fn of(cell: Cell<'_>) -> Option<Vec<u8>> {
        if let Cell::Blob(bytes) = cell { Some(bytes.to_vec()) } else { None }
    }
}

impl<const N: usize> Column for [u8; N] {
    fn of(cell: Cell<'_>) -> Option<[u8; N]> {
        if let Cell::Blob(bytes) = cell { bytes.try_into().ok() } else { None }
    }
}

impl<T: Column> Column for Option<T> {
    fn of(cell: Cell<'_>) -> Option<Option<T>> {
        match cell {
            Cell::Null(_) => Some(None),
            held => T::of(held).map(Some),
        }
    }
}
