//! Which of a meter's values is read, and how.

use super::decoder::Decoder;
use super::link::{Channel, Offer};
use super::presentation::{ChannelRefused, Presentation};
use super::profile::Profile;
use crate::unit::Unit;
use uuid::Uuid;

/// How the chosen value is decoded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReadBy {
    /// The channel describes itself.
    Description(Channel),
    /// A profile.
    Profile(Box<Profile>),
}

/// The value to listen to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// Its service.
    pub service: Uuid,
    /// Its characteristic.
    pub characteristic: Uuid,
    /// How it is decoded.
    pub read_by: ReadBy,
}

impl Choice {
    /// The decoder for connection `generation`. `None` for a channel of binary floats while the decimal
    /// `places` of the meter's display are not known: they are asked for, never guessed.
    pub fn decoder(&self, generation: u32, places: Option<u8>) -> Option<Decoder> {
        let decoder = match &self.read_by {
            ReadBy::Profile(profile) => Decoder::for_profile(profile),
            ReadBy::Description(channel) => Decoder::for_presentation(channel, places).ok()?,
        };
        Some(decoder.with_generation(generation))
    }

    /// Its numbers do not tell how fine the display is.
    pub fn needs_places(&self) -> bool {
        self.decoder(0, None).is_none()
    }
}

/// Why one thing about an offer does not help.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WhyNot {
    /// The meter offers no values.
    #[error("the meter offers no values")]
    NoChannels,
    /// A value in ohm that cannot be listened to.
    #[error("value {characteristic} is in ohm, but the meter does not send it by itself")]
    DoesNotNotify {
        /// Which.
        characteristic: Uuid,
    },
    /// A value that describes itself in another unit.
    #[error("value {characteristic} is not in ohm (unit 0x{unit_code:04X})")]
    OtherUnit {
        /// Which.
        characteristic: Uuid,
        /// Its unit as Bluetooth numbers them.
        unit_code: u16,
    },
    /// A value whose description cannot be used.
    #[error("value {characteristic}: {why}")]
    Unusable {
        /// Which.
        characteristic: Uuid,
        /// Why.
        why: ChannelRefused,
    },
    /// A profile knows the meter's name, but not which of these values it speaks of.
    #[error("profile {profile:?} fits the name, but the meter sends {channels} values and the profile names none")]
    WhichChannel {
        /// The profile.
        profile: String,
        /// How many values notify.
        channels: usize,
    },
    /// Several profiles fit equally: taking the wrong one would give wrong numbers.
    #[error("several profiles fit: {}", .profiles.join(", "))]
    SeveralProfiles {
        /// Their names.
        profiles: Vec<String>,
    },
    /// No profile fits name or values.
    #[error("no profile fits this meter")]
    NoProfile,
}

/// Why none of a meter's values can be read, everything that was tried in its order.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{}", .reasons.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
pub struct NoChoice {
    /// The reasons, at least one.
    pub reasons: Vec<WhyNot>,
}

/// Picks the value to listen to: first one in ohm that describes itself and notifies (the one marked
/// main, then first, then the first found), else the one a profile in ohm names. Two profiles that fit
/// equally well are refused.
///
/// # Errors
/// [`NoChoice`] with every reason.
pub fn choose(offer: &Offer, profiles: &[Profile]) -> Result<Choice, NoChoice> {
    let mut reasons = Vec::new();
    if offer.channels.is_empty() {
        reasons.push(WhyNot::NoChannels);
    }
    let mut best: Option<(u8, &Channel)> = None;
    for channel in &offer.channels {
        match described(channel) {
            Ok(rank) if best.is_none_or(|(lowest, _)| rank < lowest) => best = Some((rank, channel)),
            Ok(_) => {}
            Err(reason) => reasons.extend(reason),
        }
    }
    if let Some((_, channel)) = best {
        return Ok(Choice {
            service: channel.service,
            characteristic: channel.characteristic,
            read_by: ReadBy::Description(channel.clone()),
        });
    }
    by_profile(offer, profiles, &mut reasons).ok_or(NoChoice { reasons })
}

/// Its rank if it can be used as it is; otherwise why not, or nothing if it does not describe itself.
fn described(channel: &Channel) -> Result<u8, Option<WhyNot>> {
    let characteristic = channel.characteristic;
    let bytes = channel.presentation.as_deref().ok_or(None)?;
    let unusable = |why| Some(WhyNot::Unusable { characteristic, why });
    let presentation = Presentation::parse(bytes).map_err(unusable)?;
    if presentation.unit() != Some(Unit::Ohm) {
        return Err(Some(WhyNot::OtherUnit { characteristic, unit_code: presentation.unit_code }));
    }
    if !channel.notifies {
        return Err(Some(WhyNot::DoesNotNotify { characteristic }));
    }
    match Decoder::for_presentation(channel, None) {
        // Of two that are marked alike, the one that needs nobody's help is better.
        Ok(_) => Ok(2 * presentation.rank()),
        Err(ChannelRefused::StepUnknown) => Ok(2 * presentation.rank() + 1),
        Err(why) => Err(unusable(why)),
    }
}

fn by_profile(offer: &Offer, profiles: &[Profile], reasons: &mut Vec<WhyNot>) -> Option<Choice> {
    let mut fitting: Vec<(u8, &Profile, &Channel)> = Vec::new();
    for profile in profiles.iter().filter(|p| p.value.unit == Unit::Ohm) {
        match profile.matching.channel(offer) {
            Ok(Some((rank, channel))) => fitting.push((rank, profile, channel)),
            Ok(None) => {}
            Err(channels) => reasons.push(WhyNot::WhichChannel { profile: profile.name.clone(), channels }),
        }
    }
    let most = fitting.iter().map(|(rank, ..)| *rank).max();
    fitting.retain(|(rank, ..)| Some(*rank) == most);
    match fitting.as_slice() {
        [] => reasons.push(WhyNot::NoProfile),
        [(_, profile, channel)] => {
            return Some(Choice {
                service: channel.service,
                characteristic: channel.characteristic,
                read_by: ReadBy::Profile(Box::new((*profile).clone())),
            });
        }
        several => {
            let profiles = several.iter().map(|(_, profile, _)| profile.name.clone()).collect();
            reasons.push(WhyNot::SeveralProfiles { profiles });
        }
    }
    None
}
