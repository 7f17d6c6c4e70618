//! What the daemon answers to a call: a pure step from the table and a call to messages.

use super::parts::Answer;
use super::world::{ADAPTER, ADAPTER1, CHARACTERISTIC1, DEVICE1, Facts, Part, World};
use std::collections::HashMap;
use std::time::Duration;
use zbus::message::Header;
use zbus::{Message, ObjectPath, Result, Variant};

/// Messages to send, in this order, after a delay. No reply among them is a call that hangs.
#[derive(Debug, Default)]
pub(super) struct Outcome {
    pub messages: Vec<Message>,
    pub delay: Duration,
}

/// Why a call is not done: error name and text, as on the bus.
struct No(&'static str, &'static str);

const FAILED: &str = "org.bluez.Error.Failed";
const UNKNOWN_OBJECT: No = No("org.freedesktop.DBus.Error.UnknownObject", "no such object");
const UNKNOWN_METHOD: No = No("org.freedesktop.DBus.Error.UnknownMethod", "no such method");

/// A call, taken apart once.
struct Call<'a> {
    header: &'a Header<'a>,
    path: &'a str,
    member: &'a str,
    /// The strings at the front of the body: interface, property.
    words: Vec<String>,
}

impl Call<'_> {
    fn empty(&self) -> Result<Message> {
        Message::method_return(self.header).build(&())
    }

    fn refuse(&self, no: &No) -> Result<Message> {
        Message::error(self.header, no.0).build(&(no.1,))
    }
}

/// Answers one call and moves the table.
///
/// # Errors
/// A message could not be built: a defect of the stand-in.
pub(super) fn answer(world: &mut World, message: &Message) -> Result<Outcome> {
    let header = message.header();
    let body = message.body();
    let (words, set_to) = match body.deserialize::<(String, String, Variant<'_>)>() {
        Ok((interface, property, value)) => (vec![interface, property], bool::try_from(value).ok()),
        Err(_) => match body.deserialize::<(String, String)>() {
            Ok((interface, property)) => (vec![interface, property], None),
            Err(_) => (body.deserialize::<String>().into_iter().collect(), None),
        },
    };
    let path = header.path().map_or("", |path| path.as_str());
    let member = header.member().map_or("", |member| member.as_str());
    let call = Call { header: &header, path, member, words };
    note(world, &call, set_to);
    let delay = world.owner(path).map_or(Duration::ZERO, |row| row.manners.delay);
    let mut messages = Vec::new();
    let done = match (member, set_to) {
        ("Set", Some(on)) if path == ADAPTER && call.words[1] == "Powered" => power(world, on, &mut messages),
        _ => act(world, &call, &mut messages),
    };
    match done {
        Ok(Some(reply)) => messages.push(reply?),
        Ok(None) if member == "Set" => messages.push(call.empty()?),
        Ok(None) => {}
        Err(no) => messages.push(call.refuse(&no)?),
    }
    // BlueZ tells that services are resolved after it answered the connect.
    if member == "Connect" {
        messages.extend(resolve(world, path)?);
    }
    Ok(Outcome { messages, delay })
}

fn note(world: &mut World, call: &Call<'_>, set_to: Option<bool>) {
    let tail = call.path.rsplit('/').next().unwrap_or("");
    let mut line = format!("{} {tail}", call.member);
    if let (Some(property), Some(on)) = (call.words.get(1), set_to) {
        line = format!("{line} {property} {on}");
    }
    world.calls.push(line);
}

type Done = std::result::Result<Option<Result<Message>>, No>;

fn act(world: &mut World, call: &Call<'_>, before: &mut Vec<Message>) -> Done {
    let reply = match call.member {
        "GetManagedObjects" => managed(world, call),
        "Introspect" if call.path == "/" || call.path == "/org/bluez" || world.facts(call.path).is_some() => {
            Message::method_return(call.header).build(&world.introspection(call.path))
        }
        "Introspect" => return Err(UNKNOWN_OBJECT),
        "GetAll" => Message::method_return(call.header).build(&world.facts(call.path).ok_or(UNKNOWN_OBJECT)?.1),
        "Get" => {
            let (_, mut facts) = world.facts(call.path).ok_or(UNKNOWN_OBJECT)?;
            let property = call.words.get(1).map_or("", String::as_str);
            Message::method_return(call.header).build(&facts.remove(property).ok_or(UNKNOWN_METHOD)?)
        }
        "SetDiscoveryFilter" => call.empty(),
        "StartDiscovery" | "StopDiscovery" => {
            before.extend(discover(world, call.member == "StartDiscovery")?.into_iter().flatten());
            call.empty()
        }
        "Connect" => return connect(world, call, before),
        "Disconnect" => {
            let row = world.owner_mut(call.path).ok_or(UNKNOWN_OBJECT)?;
            if !row.connected {
                return Err(No("org.bluez.Error.NotConnected", "Not Connected"));
            }
            row.unlink();
            before.extend(unlinked(call.path));
            call.empty()
        }
        "StartNotify" | "StopNotify" | "ReadValue" | "WriteValue" => return gatt(world, call, before),
        _ => return Err(UNKNOWN_METHOD),
    };
    Ok(Some(reply))
}

fn managed(world: &World, call: &Call<'_>) -> Result<Message> {
    let mut objects: HashMap<ObjectPath<'_>, HashMap<&str, Facts>> = HashMap::new();
    for path in world.paths() {
        if let Some((interface, facts)) = world.facts(&path) {
            objects.insert(ObjectPath::try_from(path)?, HashMap::from([(interface, facts)]));
        }
    }
    Message::method_return(call.header).build(&objects)
}

fn power(world: &mut World, on: bool, before: &mut Vec<Message>) -> Done {
    before.extend(powered(world, on).ok_or(UNKNOWN_OBJECT)?.into_iter().flatten());
    Ok(None)
}

/// Switches the adapter and tells it; off takes every link with it. `None` without an adapter.
pub(super) fn powered(world: &mut World, on: bool) -> Option<Vec<Result<Message>>> {
    let adapter = world.adapter.as_mut()?;
    if adapter.powered == on {
        return Some(Vec::new());
    }
    adapter.powered = on;
    let mut told = Vec::new();
    if !on {
        if std::mem::take(&mut adapter.discovering) {
            told.push(changed(ADAPTER, ADAPTER1, Facts::from([("Discovering", false.into())])));
        }
        for row in world.devices.values_mut().filter(|row| row.known && row.connected) {
            row.unlink();
            told.extend(unlinked(&row.path()).into_iter().map(Ok));
        }
    }
    told.push(changed(ADAPTER, ADAPTER1, Facts::from([("Powered", on.into())])));
    Some(told)
}

fn discover(world: &mut World, start: bool) -> std::result::Result<Vec<Result<Message>>, No> {
    let adapter = world.adapter.as_mut().ok_or(UNKNOWN_OBJECT)?;
    if !adapter.powered {
        return Err(No("org.bluez.Error.NotReady", "Resource Not Ready"));
    }
    match (start, adapter.discovering) {
        (true, true) => return Err(No("org.bluez.Error.InProgress", "Operation already in progress")),
        (false, false) => return Err(No(FAILED, "No discovery started")),
        _ => adapter.discovering = start,
    }
    let mut told = vec![changed(ADAPTER, ADAPTER1, Facts::from([("Discovering", start.into())]))];
    if start {
        let heard: Vec<String> = world.devices.values().filter(|row| row.in_air).map(|row| row.path()).collect();
        told.extend(heard.iter().flat_map(|path| heard_of(world, path)));
    }
    Ok(told)
}

/// An advertisement came in: a new object, or a new signal strength of one that is known.
pub(super) fn heard_of(world: &mut World, path: &str) -> Option<Result<Message>> {
    let row = world.devices.values_mut().find(|row| row.path() == path)?;
    let signal = row.device.signal;
    if std::mem::replace(&mut row.known, true) {
        return Some(changed(path, DEVICE1, Facts::from([("RSSI", signal.into())])));
    }
    Some(added(world, path))
}

fn connect(world: &mut World, call: &Call<'_>, before: &mut Vec<Message>) -> Done {
    let powered = world.adapter.as_ref().is_some_and(|adapter| adapter.powered);
    let row = world.owner_mut(call.path).ok_or(UNKNOWN_OBJECT)?;
    if !powered {
        return Err(No("org.bluez.Error.NotReady", "Resource Not Ready"));
    }
    match row.manners.connecting {
        Answer::Hangs => return Ok(None),
        Answer::Refuses(name) => return Err(No(name, "le-connection-abort-by-local")),
        Answer::Does if !row.in_air => return Err(No(FAILED, "le-connection-abort-by-local")),
        Answer::Does => {}
    }
    if !std::mem::replace(&mut row.connected, true) {
        let told = changed(call.path, DEVICE1, Facts::from([("Connected", true.into())]));
        before.extend(told);
    }
    Ok(Some(call.empty()))
}

fn resolve(world: &mut World, path: &str) -> Result<Option<Message>> {
    match world.owner_mut(path) {
        Some(row) if row.connected && row.manners.resolves && !row.resolved => {
            row.resolved = true;
            changed(path, DEVICE1, Facts::from([("ServicesResolved", true.into())])).map(Some)
        }
        _ => Ok(None),
    }
}

fn gatt(world: &mut World, call: &Call<'_>, before: &mut Vec<Message>) -> Done {
    let row = world.owner_mut(call.path).ok_or(UNKNOWN_OBJECT)?;
    let part = row.part(call.path).ok_or(UNKNOWN_OBJECT)?;
    let reading = call.member == "ReadValue";
    match if reading { row.manners.reading } else { row.manners.subscribing } {
        Answer::Hangs => return Ok(None),
        Answer::Refuses(name) => return Err(No(name, "told to refuse")),
        Answer::Does => {}
    }
    let characteristic = row.characteristic(part).ok_or(UNKNOWN_METHOD)?;
    match call.member {
        "ReadValue" => {
            let bytes = match part {
                Part::Descriptor(_, _, d) => characteristic.descriptors[d].1.clone(),
                _ => characteristic.value.clone(),
            };
            // BlueZ tells a value that was read as a change as well: a link must not take it for a notification.
            if matches!(part, Part::Characteristic(..)) {
                let told = Facts::from([("Value", bytes.clone().into())]);
                before.extend(changed(call.path, CHARACTERISTIC1, told));
            }
            Ok(Some(Message::method_return(call.header).build(&bytes)))
        }
        "StartNotify" if !characteristic.flags.iter().any(|flag| flag == "notify" || flag == "indicate") => {
            Err(No("org.bluez.Error.NotSupported", "Operation is not supported"))
        }
        "StartNotify" if !row.notifying.insert(call.path.to_owned()) => {
            Err(No("org.bluez.Error.InProgress", "Already notifying"))
        }
        "StartNotify" => {
            let values = row.manners.at_once.iter().map(|bytes| Facts::from([("Value", bytes.clone().into())]));
            before.extend(values.filter_map(|value| changed(call.path, CHARACTERISTIC1, value).ok()));
            Ok(Some(call.empty()))
        }
        "StopNotify" if !row.notifying.remove(call.path) => Err(No(FAILED, "No notify session started")),
        _ => Ok(Some(call.empty())),
    }
}

/// The two things told when a link ends.
pub(super) fn unlinked(path: &str) -> Vec<Message> {
    let gone = Facts::from([("Connected", false.into()), ("ServicesResolved", false.into())]);
    changed(path, DEVICE1, gone).into_iter().collect()
}

/// A `PropertiesChanged` signal.
pub(super) fn changed(path: &str, interface: &str, facts: Facts) -> Result<Message> {
    let none: [&str; 0] = [];
    Message::signal(path, "org.freedesktop.DBus.Properties", "PropertiesChanged").build(&(
        interface,
        facts,
        none.as_slice(),
    ))
}

/// An `InterfacesAdded` signal of an object that exists.
pub(super) fn added(world: &World, path: &str) -> Result<Message> {
    let interfaces: HashMap<&str, Facts> = world.facts(path).into_iter().collect();
    Message::signal("/", "org.freedesktop.DBus.ObjectManager", "InterfacesAdded")
        .build(&(ObjectPath::try_from(path)?, interfaces))
}

/// An `InterfacesRemoved` signal.
pub(super) fn removed(path: &str) -> Result<Message> {
    let interface = if path == ADAPTER { ADAPTER1 } else { DEVICE1 };
    Message::signal("/", "org.freedesktop.DBus.ObjectManager", "InterfacesRemoved")
        .build(&(ObjectPath::try_from(path)?, [interface].as_slice()))
}
