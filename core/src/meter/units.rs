//! What a meter can be set to, and the words meters write for it.

use crate::unit::Unit;

/// What a meter says it measures. More than [`Unit`], so that a screen can name a wrong setting.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Setting {
    /// Resistance.
    Ohm,
    /// Voltage, direct or alternating.
    Volt,
    /// Temperature, degree Celsius.
    Celsius,
    /// Temperature, degree Fahrenheit.
    Fahrenheit,
    /// Current.
    Ampere,
    /// Capacitance.
    Farad,
    /// Frequency.
    Hertz,
    /// Duty cycle or another ratio.
    Percent,
    /// Diode test.
    Diode,
    /// Continuity beeper.
    Continuity,
}

impl Setting {
    /// The plural a sentence uses: "the meter is set to volts".
    pub fn plural(self) -> &'static str {
        match self {
            Setting::Ohm => "ohms",
            Setting::Volt => "volts",
            Setting::Celsius => "degrees Celsius",
            Setting::Fahrenheit => "degrees Fahrenheit",
            Setting::Ampere => "amperes",
            Setting::Farad => "capacitance",
            Setting::Hertz => "frequency",
            Setting::Percent => "per cent",
            Setting::Diode => "diode test",
            Setting::Continuity => "continuity",
        }
    }

    /// Whether a reading under this setting is one in `unit`. Diode and continuity never are.
    pub fn is(self, unit: Unit) -> bool {
        matches!(
            (self, unit),
            (Setting::Ohm, Unit::Ohm) | (Setting::Volt, Unit::Volt) | (Setting::Celsius, Unit::Celsius)
        )
    }
}

/// A setting with its multiplier: kilo-ohm is ohm with exponent 3.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Meaning {
    /// What is measured.
    pub setting: Setting,
    /// Power of ten the number is multiplied by.
    pub exponent: i8,
}

/// Reads a unit word as meters and profiles write it: `ohm`, `kOhm`, `MΩ`, `V DC`, `°C`, `diode`.
/// Letter case does not matter, but for `m` (milli) and `M` (mega). `None` for a word that is not known.
pub fn meaning(word: &str) -> Option<Meaning> {
    let tight: String = word.chars().filter(|c| !c.is_whitespace()).collect();
    if let Some(setting) = base(&tight) {
        return Some(Meaning { setting, exponent: 0 });
    }
    let mut letters = tight.chars();
    let exponent = match letters.next()? {
        'n' | 'N' => -9,
        'u' | 'U' | 'µ' | 'μ' => -6,
        'm' => -3,
        'k' | 'K' => 3,
        'M' => 6,
        'G' | 'g' => 9,
        _ => return None,
    };
    let setting = base(letters.as_str())?;
    let scales = matches!(setting, Setting::Ohm | Setting::Volt | Setting::Ampere | Setting::Farad | Setting::Hertz);
    scales.then_some(Meaning { setting, exponent })
}

fn base(word: &str) -> Option<Setting> {
    let lower = word.to_lowercase();
    let without_kind = ["ac+dc", "ac", "dc", "~"].iter().find_map(|kind| lower.strip_suffix(kind));
    Some(match lower.as_str() {
        // U+03C9 is what both the letter omega and the ohm sign become in lower case.
        "ohm" | "ohms" | "\u{3c9}" => Setting::Ohm,
        "v" | "volt" | "volts" => Setting::Volt,
        "a" | "amp" | "amps" | "ampere" => Setting::Ampere,
        "f" | "farad" => Setting::Farad,
        "hz" | "hertz" => Setting::Hertz,
        "%" | "percent" => Setting::Percent,
        "°c" | "degc" | "celsius" => Setting::Celsius,
        "°f" | "degf" | "fahrenheit" => Setting::Fahrenheit,
        "diode" | "dio" => Setting::Diode,
        "continuity" | "cont" | "beep" => Setting::Continuity,
        _ => match without_kind? {
            "v" | "volt" | "volts" => Setting::Volt,
            "a" | "amp" | "amps" => Setting::Ampere,
            _ => return None,
        },
    })
}
