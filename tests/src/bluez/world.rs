//! The table behind the stand-in: one adapter, its devices, and which of their objects exist now.

use super::parts::{Characteristic, Device, Manners, Service};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;
use zbus::Variant;

pub(super) const ADAPTER: &str = "/org/bluez/hci0";
pub(super) const ADAPTER1: &str = "org.bluez.Adapter1";
pub(super) const DEVICE1: &str = "org.bluez.Device1";
pub(super) const SERVICE1: &str = "org.bluez.GattService1";
pub(super) const CHARACTERISTIC1: &str = "org.bluez.GattCharacteristic1";
pub(super) const DESCRIPTOR1: &str = "org.bluez.GattDescriptor1";

/// Properties of one interface.
pub(super) type Facts = BTreeMap<&'static str, Variant<'static>>;

#[derive(Debug, Default)]
pub(super) struct World {
    pub adapter: Option<AdapterRow>,
    pub devices: BTreeMap<String, DeviceRow>,
    /// Every call, as `Member tail-of-path`; for `Set` also the property and its value.
    pub calls: Vec<String>,
}

#[derive(Debug)]
pub(super) struct AdapterRow {
    pub powered: bool,
    pub discovering: bool,
}

#[derive(Debug)]
pub(super) struct DeviceRow {
    pub device: Device,
    pub manners: Manners,
    /// Can be heard.
    pub in_air: bool,
    /// The daemon has an object for it.
    pub known: bool,
    pub connected: bool,
    pub resolved: bool,
    /// Paths of characteristics with notifications on.
    pub notifying: BTreeSet<String>,
    /// Path and kind of everything below the device, in order of handles.
    pub below: Vec<(String, Part)>,
}

/// Where in a device's table an object belongs.
#[derive(Clone, Copy, Debug)]
pub(super) enum Part {
    Service(usize),
    Characteristic(usize, usize),
    Descriptor(usize, usize, usize),
}

impl DeviceRow {
    pub fn new(device: Device) -> DeviceRow {
        let below = lay_out(&device);
        DeviceRow {
            device,
            manners: Manners::default(),
            in_air: true,
            known: false,
            connected: false,
            resolved: false,
            notifying: BTreeSet::new(),
            below,
        }
    }

    pub fn path(&self) -> String {
        path_of(&self.device.address)
    }

    /// The link is gone, whoever asked for it.
    pub fn unlink(&mut self) {
        self.connected = false;
        self.resolved = false;
        self.notifying.clear();
    }

    pub fn part(&self, path: &str) -> Option<Part> {
        if !self.resolved {
            return None;
        }
        self.below.iter().find(|(at, _)| at == path).map(|(_, part)| *part)
    }

    pub fn service(&self, part: Part) -> &Service {
        match part {
            Part::Service(s) | Part::Characteristic(s, _) | Part::Descriptor(s, _, _) => &self.device.services[s],
        }
    }

    pub fn characteristic(&self, part: Part) -> Option<&Characteristic> {
        match part {
            Part::Service(_) => None,
            Part::Characteristic(_, c) | Part::Descriptor(_, c, _) => Some(&self.service(part).characteristics[c]),
        }
    }

    /// The path of the first characteristic with this UUID.
    pub fn path_of(&self, characteristic: Uuid) -> Option<&str> {
        self.below.iter().find_map(|(path, part)| match part {
            Part::Characteristic(..) if self.characteristic(*part)?.uuid == characteristic => Some(path.as_str()),
            _ => None,
        })
    }

    /// Interface and properties of the device or of something below it.
    pub fn facts(&self, path: &str) -> Option<(&'static str, Facts)> {
        if path == self.path() {
            return Some((DEVICE1, self.device_facts()));
        }
        let part = self.part(path)?;
        let mut facts = Facts::new();
        let interface = match part {
            Part::Service(_) => {
                facts.insert("UUID", self.service(part).uuid.to_string().into());
                facts.insert("Primary", true.into());
                SERVICE1
            }
            Part::Characteristic(..) => {
                let characteristic = self.characteristic(part)?;
                facts.insert("UUID", characteristic.uuid.to_string().into());
                facts.insert("Flags", characteristic.flags.clone().into());
                facts.insert("Notifying", self.notifying.contains(path).into());
                CHARACTERISTIC1
            }
            Part::Descriptor(_, _, d) => {
                facts.insert("UUID", self.characteristic(part)?.descriptors[d].0.to_string().into());
                DESCRIPTOR1
            }
        };
        Some((interface, facts))
    }

    fn device_facts(&self) -> Facts {
        let mut facts = Facts::from([
            ("Address", self.device.address.clone().into()),
            ("AddressType", "random".into()),
            ("Paired", false.into()),
            ("Trusted", false.into()),
            ("Blocked", false.into()),
            ("LegacyPairing", false.into()),
            ("Connected", self.connected.into()),
            ("ServicesResolved", self.resolved.into()),
        ]);
        if !self.device.name.is_empty() {
            facts.insert("Name", self.device.name.clone().into());
            facts.insert("Alias", self.device.name.clone().into());
        }
        if self.in_air {
            facts.insert("RSSI", self.device.signal.into());
        }
        facts
    }
}

impl World {
    /// The device an object belongs to, if the daemon knows it.
    pub fn owner(&self, path: &str) -> Option<&DeviceRow> {
        self.devices.values().find(|row| row.known && owns(row, path))
    }

    pub fn owner_mut(&mut self, path: &str) -> Option<&mut DeviceRow> {
        self.devices.values_mut().find(|row| row.known && owns(row, path))
    }

    /// Interface and properties of an object, if it exists now.
    pub fn facts(&self, path: &str) -> Option<(&'static str, Facts)> {
        let adapter = self.adapter.as_ref()?;
        if path == ADAPTER {
            return Some((ADAPTER1, adapter_facts(adapter)));
        }
        self.owner(path)?.facts(path)
    }

    /// Paths of all objects that exist now, parents before children.
    pub fn paths(&self) -> Vec<String> {
        let mut paths = Vec::new();
        if self.adapter.is_none() {
            return paths;
        }
        paths.push(ADAPTER.to_owned());
        for row in self.devices.values().filter(|row| row.known) {
            paths.push(row.path());
            if row.resolved {
                paths.extend(row.below.iter().map(|(path, _)| path.clone()));
            }
        }
        paths
    }

    /// What Introspect tells: the names of the children only, because nothing else is read by anyone.
    pub fn introspection(&self, path: &str) -> String {
        let prefix = if path == "/" { String::new() } else { path.to_owned() };
        let children: BTreeSet<String> = self
            .paths()
            .iter()
            .filter_map(|each| each.strip_prefix(&prefix)?.strip_prefix('/'))
            .map(|rest| rest.split('/').next().unwrap_or(rest).to_owned())
            .collect();
        let nodes: String = children.iter().map(|name| format!("<node name=\"{name}\"/>")).collect();
        format!("<node>{nodes}</node>")
    }

    /// No adapter hears or holds anything any more.
    pub fn unlink_all(&mut self) {
        self.devices.values_mut().for_each(DeviceRow::unlink);
    }
}

fn owns(row: &DeviceRow, path: &str) -> bool {
    path.strip_prefix(&row.path()).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
}

fn adapter_facts(adapter: &AdapterRow) -> Facts {
    Facts::from([
        ("Address", "02:00:00:00:00:01".into()),
        ("AddressType", "public".into()),
        ("Name", "bench".into()),
        ("Alias", "bench".into()),
        ("Modalias", "usb:v0000p0000d0000".into()),
        ("Powered", adapter.powered.into()),
        ("Discovering", adapter.discovering.into()),
    ])
}

pub(super) fn path_of(address: &str) -> String {
    format!("{ADAPTER}/dev_{}", address.replace(':', "_"))
}

fn lay_out(device: &Device) -> Vec<(String, Part)> {
    let mut handle = 0;
    let mut next = |above: &str, kind: &str| {
        handle += 1;
        format!("{above}/{kind}{handle:04x}")
    };
    let mut below = Vec::new();
    for (s, service) in device.services.iter().enumerate() {
        let at = next(&path_of(&device.address), "service");
        below.push((at.clone(), Part::Service(s)));
        for (c, characteristic) in service.characteristics.iter().enumerate() {
            let under = next(&at, "char");
            below.push((under.clone(), Part::Characteristic(s, c)));
            for d in 0..characteristic.descriptors.len() {
                below.push((next(&under, "desc"), Part::Descriptor(s, c, d)));
            }
        }
    }
    below
}
