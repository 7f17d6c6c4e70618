//! Many files as one: a ZIP (APPNOTE 4.3) in which nothing is left to choice, so that every byte of it is accounted for.
//!
//! Files stand in the order of their names, uncompressed, all with the same date. What is read is written anew and has
//! to come out the same: there is no byte that could be changed without being seen.

use std::collections::BTreeMap;

/// Longest name, bytes.
const MAX_NAME: usize = 100;
/// Most files; a ZIP counts them in 16 bits.
pub const MAX_FILES: usize = 60_000;
/// Most bytes of all files together: half of what a ZIP can count, so that no offset runs over.
pub const MAX_BYTES: usize = 1 << 31;
/// "Version needed" 1.0: stored, nothing else.
const VERSION: u16 = 10;
/// 1 January 1980, the first day a ZIP knows.
const DATE: u16 = 0x21;
const LOCAL: u32 = 0x0403_4B50;
const CENTRAL: u32 = 0x0201_4B50;
const END: u32 = 0x0605_4B50;
/// Bytes of a local header before its name.
const LOCAL_BYTES: usize = 30;

/// Files by their names.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Parcel {
    files: BTreeMap<String, Vec<u8>>,
}

/// Why bytes are not a parcel, or a file is not taken into one.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ParcelFault {
    /// The bytes end before it does, or are something else altogether.
    #[error("this is no claim file, or a piece of one")]
    NotOne,
    /// Something is not as it is written.
    #[error("{at} is not as it was written (byte {offset})")]
    Changed {
        /// Which file, or "the list of files".
        at: String,
        /// Where the first byte is that is not as it would be written.
        offset: usize,
    },
    /// A name that a parcel does not have.
    #[error("'{0}' is no name for a file of a claim")]
    Name(String),
    /// More than fits.
    #[error("it holds more than {MAX_FILES} files or more than 2 GiB")]
    TooMuch,
}

impl Parcel {
    /// Puts a file in, in place of one of the same name.
    ///
    /// # Errors
    /// [`ParcelFault::Name`]: a name is 1 to 100 of `A-Z a-z 0-9 . _ -`, in folders by `/`, none of them empty or
    /// beginning with a dot. [`ParcelFault::TooMuch`].
    pub fn put(&mut self, name: &str, bytes: Vec<u8>) -> Result<(), ParcelFault> {
        if !is_name(name) {
            return Err(ParcelFault::Name(name.chars().take(MAX_NAME).collect()));
        }
        let held: usize = self.files.values().map(Vec::len).sum();
        if self.files.len() >= MAX_FILES || held.saturating_add(bytes.len()) > MAX_BYTES {
            return Err(ParcelFault::TooMuch);
        }
        self.files.insert(name.to_owned(), bytes);
        Ok(())
    }

    /// The files in the order of their names.
    pub fn files(&self) -> impl Iterator<Item = (&str, &[u8])> {
        self.files.iter().map(|(name, bytes)| (name.as_str(), bytes.as_slice()))
    }

    /// One file.
    pub fn file(&self, name: &str) -> Option<&[u8]> {
        self.files.get(name).map(Vec::as_slice)
    }

    /// The ZIP.
    pub fn to_bytes(&self) -> Vec<u8> {
        let (mut out, mut list) = (Vec::new(), Vec::new());
        for (name, bytes) in &self.files {
            let at = small(out.len());
            let about = About { name, crc: crc32fast::hash(bytes), bytes: small(bytes.len()) };
            out.extend(LOCAL.to_le_bytes());
            about.write(&mut out);
            out.extend(name.as_bytes());
            out.extend(bytes);
            list.extend(CENTRAL.to_le_bytes());
            list.extend(VERSION.to_le_bytes());
            about.write(&mut list);
            // Length of a comment, disk, two sorts of attributes.
            list.extend([0; 10]);
            list.extend(at.to_le_bytes());
            list.extend(name.as_bytes());
        }
        let count = u16::try_from(self.files.len()).expect("no more than MAX_FILES");
        let (at, length) = (small(out.len()), small(list.len()));
        out.append(&mut list);
        out.extend(END.to_le_bytes());
        out.extend([0; 4]);
        out.extend(count.to_le_bytes());
        out.extend(count.to_le_bytes());
        out.extend(length.to_le_bytes());
        out.extend(at.to_le_bytes());
        out.extend([0; 2]);
        out
    }

    /// Reads a ZIP that [`Parcel::to_bytes`] wrote, and no other.
    ///
    /// # Errors
    /// [`ParcelFault::NotOne`] for other bytes, [`ParcelFault::Changed`] with the first byte that is not as it would be
    /// written.
    pub fn read(bytes: &[u8]) -> Result<Parcel, ParcelFault> {
        let mut parcel = Parcel::default();
        let (mut rest, mut ends) = (bytes, Vec::new());
        while let Some((name, content, after)) = next_file(rest) {
            if parcel.put(&name, content.to_vec()).is_err() {
                break;
            }
            rest = after;
            ends.push((bytes.len() - rest.len(), name));
        }
        if ends.is_empty() {
            return Err(ParcelFault::NotOne);
        }
        let written = parcel.to_bytes();
        if written == bytes {
            return Ok(parcel);
        }
        let same = written.iter().zip(bytes).take_while(|(a, b)| a == b).count();
        let at = ends.iter().find(|(end, _)| same < *end).map_or("the list of files".to_owned(), |(_, n)| n.clone());
        Err(ParcelFault::Changed { at, offset: same })
    }
}

/// What both headers of a file say.
struct About<'a> {
    name: &'a str,
    crc: u32,
    bytes: u32,
}

impl About<'_> {
    fn write(&self, out: &mut Vec<u8>) {
        out.extend(VERSION.to_le_bytes());
        // Flags, method (stored), time.
        out.extend([0; 6]);
        out.extend(DATE.to_le_bytes());
        out.extend(self.crc.to_le_bytes());
        out.extend(self.bytes.to_le_bytes());
        out.extend(self.bytes.to_le_bytes());
        let name = u16::try_from(self.name.len()).expect("no longer than MAX_NAME");
        out.extend(name.to_le_bytes());
        out.extend([0; 2]);
    }
}

/// Name and content of the file `bytes` begin with, and what comes after it.
fn next_file(bytes: &[u8]) -> Option<(String, &[u8], &[u8])> {
    let word = |at: usize| Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?));
    if word(0)? != LOCAL {
        return None;
    }
    let length = usize::try_from(word(22)?).ok()?;
    let name = usize::from(u16::from_le_bytes(bytes.get(26..28)?.try_into().ok()?));
    let (head, rest) = bytes.split_at_checked(LOCAL_BYTES.checked_add(name)?)?;
    let (content, after) = rest.split_at_checked(length)?;
    Some((String::from_utf8(head[LOCAL_BYTES..].to_vec()).ok()?, content, after))
}

fn is_name(name: &str) -> bool {
    let allowed = |c: u8| c.is_ascii_alphanumeric() || matches!(c, b'.' | b'_' | b'-');
    let part = |part: &str| !part.is_empty() && !part.starts_with('.') && part.bytes().all(allowed);
    name.len() <= MAX_NAME && name.split('/').all(part)
}

fn small(length: usize) -> u32 {
    u32::try_from(length).expect("no more than MAX_BYTES and a header for each of MAX_FILES")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn parcel(files: &[(&str, &[u8])]) -> Parcel {
        let mut parcel = Parcel::default();
        files.iter().for_each(|(name, bytes)| parcel.put(name, bytes.to_vec()).expect("fits"));
        parcel
    }

    /// Laid out by hand from APPNOTE 4.3.7, 4.3.12 and 4.3.16: the file "a" with the one byte "b".
    #[test]
    fn the_smallest_one_is_written_as_the_specification_says() {
        // CRC-32 of "b" from memory of no table: computed with another program.
        let crc = 0x71BE_EFF9_u32.to_le_bytes();
        let both = [&[10, 0, 0, 0, 0, 0, 0, 0, 0x21, 0][..], &crc, &[1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0]].concat();
        let local = [&b"PK\x03\x04"[..], &both, b"ab"].concat();
        let central = [&b"PK\x01\x02\x0a\x00"[..], &both, &[0; 10], &[0; 4], b"a"].concat();
        let at = u8::try_from(local.len()).unwrap();
        let long = u8::try_from(central.len()).unwrap();
        let end = [&b"PK\x05\x06"[..], &[0; 4], &[1, 0, 1, 0], &[long, 0, 0, 0], &[at, 0, 0, 0], &[0; 2]].concat();
        assert_eq!(parcel(&[("a", b"b")]).to_bytes(), [local, central, end].concat());
    }

    #[test]
    fn names_that_lead_elsewhere_are_not_taken() {
        for name in ["", "/a", "a/", "../a", "a/../b", "a\\b", "a b", ".a", "ü", "a//b", &"a".repeat(101)] {
            assert!(matches!(Parcel::default().put(name, Vec::new()), Err(ParcelFault::Name(_))), "{name}");
        }
        assert!(Parcel::default().put("entries/000000000001.json", Vec::new()).is_ok());
    }

    #[test]
    fn what_is_none_is_said_to_be_none_and_a_change_names_its_file() {
        assert_eq!(Parcel::read(b""), Err(ParcelFault::NotOne));
        assert_eq!(Parcel::read(b"PK\x05\x06 and so on"), Err(ParcelFault::NotOne));
        let mut bytes = parcel(&[("a", b"first"), ("b", b"second")]).to_bytes();
        let inside = bytes.windows(6).position(|six| six == b"second").unwrap();
        bytes[inside] ^= 1;
        // The sum in the header comes first.
        let Err(ParcelFault::Changed { at, offset }) = Parcel::read(&bytes) else { panic!("seen") };
        assert!(at == "b" && offset < inside, "{at} {offset}");
        let mut longer = parcel(&[("a", b"first")]).to_bytes();
        longer.push(0);
        let end = longer.len() - 1;
        assert_eq!(Parcel::read(&longer), Err(ParcelFault::Changed { at: "the list of files".into(), offset: end }));
    }

    proptest! {
        #[test]
        fn what_was_put_in_comes_out(files in prop::collection::btree_map("[a-z]{1,4}(/[a-z0-9]{1,4})?", prop::collection::vec(any::<u8>(), 0..50), 1..8)) {
            let mut parcel = Parcel::default();
            files.iter().for_each(|(name, bytes)| parcel.put(name, bytes.clone()).expect("fits"));
            let read = Parcel::read(&parcel.to_bytes()).expect("whole");
            prop_assert_eq!(&read, &parcel);
            prop_assert!(read.files().map(|(name, bytes)| (name.to_owned(), bytes.to_vec())).eq(files));
        }

        #[test]
        fn no_byte_can_be_another_one(at in any::<prop::sample::Index>(), flip in 1u8..) {
            let mut bytes = parcel(&[("a", b"first"), ("b/c", b""), ("d", &[7; 40])]).to_bytes();
            let at = at.index(bytes.len());
            bytes[at] ^= flip;
            prop_assert!(Parcel::read(&bytes).is_err(), "byte {}", at);
        }

        #[test]
        fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
            let _whatever = Parcel::read(&[b"PK\x03\x04".to_vec(), bytes].concat());
        }
    }
}
