//! The shop, as it stands at the head of a report.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::{Deserialize, Serialize};

/// Longest name and phone, characters.
const MOST_SHORT: usize = 80;
/// Most lines of an address, and characters of one.
const MOST_LINES: (usize, usize) = (5, 80);
/// Longest logo, characters of base64: 90 kB of picture, so that its entry stays readable.
pub const MOST_LOGO: usize = 120_000;

/// The shop that hands reports out. Everything may be empty.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Shop {
    /// Its name.
    pub name: String,
    /// Street, town and so on, a line each.
    pub address: String,
    /// Phone.
    pub phone: String,
    /// A PNG or JPEG, base64; empty: none.
    pub logo: String,
}

impl Shop {
    /// The same, with blanks around every line cut off.
    pub fn tidy(self) -> Shop {
        let lines: Vec<&str> = self.address.lines().map(str::trim).filter(|line| !line.is_empty()).collect();
        let address = lines.join("\n");
        Shop { name: self.name.trim().into(), phone: self.phone.trim().into(), address, ..self }
    }

    /// What stands below its name: address and phone, a line each.
    pub fn lines(&self) -> Vec<String> {
        let lines = self.address.lines().chain([self.phone.as_str()]);
        lines.filter(|line| !line.is_empty()).map(str::to_owned).collect()
    }

    /// The bytes of its logo; `None` without one, or where they cannot be read.
    pub fn logo_bytes(&self) -> Option<Vec<u8>> {
        STANDARD.decode(&self.logo).ok().filter(|bytes| !bytes.is_empty())
    }

    /// Name of the first field that is longer than is kept.
    pub fn too_long(&self) -> Option<&'static str> {
        let long = |text: &str, most: usize| text.chars().count() > most;
        let (lines, characters) = MOST_LINES;
        let address = self.address.lines().count() > lines || self.address.lines().any(|line| long(line, characters));
        [
            ("name", long(&self.name, MOST_SHORT)),
            ("address", address),
            ("phone", long(&self.phone, MOST_SHORT)),
            ("logo", self.logo.len() > MOST_LOGO),
        ]
        .into_iter()
        .find_map(|(field, is)| is.then_some(field))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shop_is_tidied_and_held_to_what_fits_at_the_head_of_a_page() {
        let typed =
            |address: &str| Shop { name: "  Lötauge & Sohn ".into(), address: address.into(), ..Shop::default() };
        let shop = typed(" Kabelgasse 4 \n\n 00000 Orrin\n").tidy();
        assert_eq!((shop.name.as_str(), shop.address.as_str()), ("Lötauge & Sohn", "Kabelgasse 4\n00000 Orrin"));
        assert_eq!(shop.too_long(), None);
        assert_eq!(typed(&"ö".repeat(81)).too_long(), Some("address"));
        assert_eq!(typed("1\n2\n3\n4\n5\n6").too_long(), Some("address"));
        let logo = "A".repeat(MOST_LOGO + 1);
        assert_eq!(Shop { logo, ..Shop::default() }.too_long(), Some("logo"));
        assert_eq!(Shop { phone: "1".repeat(81), ..Shop::default() }.too_long(), Some("phone"));
        assert_eq!(Shop { name: "é".repeat(81), ..Shop::default() }.too_long(), Some("name"));
    }
}
