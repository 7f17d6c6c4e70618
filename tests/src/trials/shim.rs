//! A file system for SQLite that fails when it is told to: SQLite's own for this machine, with a count of what is
//! written, cut, or put on the disk, and a fault at the one that was asked for. It is the default for the whole process
//! once it is there, and harmless until it is armed.
#![allow(unsafe_code, reason = "SQLite takes a file system as a table of C functions; there is no other way in")]

use libsqlite3_sys::{
    SQLITE_FULL, SQLITE_IOERR_FSYNC, SQLITE_IOERR_TRUNCATE, SQLITE_IOERR_WRITE, SQLITE_OK, sqlite3_file,
    sqlite3_initialize, sqlite3_int64, sqlite3_io_methods, sqlite3_vfs, sqlite3_vfs_find, sqlite3_vfs_register,
};
use std::ffi::{c_char, c_int, c_void};
use std::ptr;
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU64, Ordering::SeqCst};
use std::sync::{Mutex, OnceLock};

/// How a write fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Nothing is written, and the disk says that it failed.
    Refused,
    /// Half of it is written, and the disk says that it failed. Where there is no half, as [`Fault::Refused`].
    Short,
    /// Nothing is written, and the disk says that it is full.
    Full,
}

const FAULTS: [Fault; 3] = [Fault::Refused, Fault::Short, Fault::Full];

/// Calls until the one that fails; 0: none will.
static LEFT: AtomicU64 = AtomicU64::new(0);
/// All after it fail as well.
static STAYS: AtomicBool = AtomicBool::new(false);
/// Which of [`FAULTS`].
static HOW: AtomicU8 = AtomicU8::new(0);
/// How many failed.
static FAILED: AtomicU64 = AtomicU64::new(0);

/// What SQLite's own file system does. Set once, before the shim is registered.
static OWN: OnceLock<Own> = OnceLock::new();
/// Tables of files: address of SQLite's own, and of ours in its place. Never freed, as SQLite's are not.
static TABLES: Mutex<Vec<(usize, usize)>> = Mutex::new(Vec::new());

type Open = unsafe extern "C" fn(*mut sqlite3_vfs, *const c_char, *mut sqlite3_file, c_int, *mut c_int) -> c_int;
type Write = unsafe extern "C" fn(*mut sqlite3_file, *const c_void, c_int, sqlite3_int64) -> c_int;
type Truncate = unsafe extern "C" fn(*mut sqlite3_file, sqlite3_int64) -> c_int;
type Sync = unsafe extern "C" fn(*mut sqlite3_file, c_int) -> c_int;

struct Own {
    open: Open,
    files: OnceLock<(Write, Truncate, Sync)>,
}

/// Makes the shim the file system of every connection opened from now on. Doing it again changes nothing. False: SQLite
/// does not take it.
pub fn install() -> bool {
    static DONE: OnceLock<bool> = OnceLock::new();
    *DONE.get_or_init(|| {
        // Sound: plain calls into SQLite; the table it gives is one that it never frees or changes, so that it may be
        // copied; the copy is leaked, because SQLite keeps the address for as long as the process lives.
        unsafe {
            if sqlite3_initialize() != SQLITE_OK {
                return false;
            }
            let own = sqlite3_vfs_find(ptr::null());
            let Some(open) = own.as_ref().and_then(|own| own.xOpen) else { return false };
            if OWN.set(Own { open, files: OnceLock::new() }).is_err() {
                return false;
            }
            let mut shim = Box::new(ptr::read(own));
            shim.zName = c"evenwire-trial".as_ptr();
            shim.pNext = ptr::null_mut();
            shim.xOpen = Some(open_file);
            sqlite3_vfs_register(Box::leak(shim), 1) == SQLITE_OK
        }
    })
}

/// The call number `number` from now on fails (1: the next), and all after it if it `stays`.
pub fn arm(number: u64, fault: Fault, stays: bool) {
    HOW.store(FAULTS.iter().position(|of| *of == fault).unwrap_or_default() as u8, SeqCst);
    STAYS.store(stays, SeqCst);
    FAILED.store(0, SeqCst);
    LEFT.store(number, SeqCst);
}

/// Nothing fails any more. Gives how many calls had failed.
pub fn disarm() -> u64 {
    LEFT.store(0, SeqCst);
    FAILED.swap(0, SeqCst)
}

/// Whether this call fails, and how.
fn next() -> Option<Fault> {
    let stays = STAYS.load(SeqCst);
    let count = |left: u64| match left {
        0 => None,
        1 if stays => Some(1),
        left => Some(left - 1),
    };
    // The one at 1 is it.
    let before = LEFT.fetch_update(SeqCst, SeqCst, count).ok()?;
    (before == 1).then(|| {
        FAILED.fetch_add(1, SeqCst);
        FAULTS[usize::from(HOW.load(SeqCst))]
    })
}

unsafe extern "C" fn open_file(
    vfs: *mut sqlite3_vfs,
    name: *const c_char,
    file: *mut sqlite3_file,
    flags: c_int,
    told: *mut c_int,
) -> c_int {
    let Some(own) = OWN.get() else { return SQLITE_IOERR_WRITE };
    // Sound: the arguments are SQLite's, handed on as they are to the function they are meant for. What it opened is a
    // file whose table never changes and is never freed; ours in its place has the same functions but for three.
    unsafe {
        let opened = (own.open)(vfs, name, file, flags, told);
        if opened == SQLITE_OK
            && let Some(methods) = (*file).pMethods.as_ref()
            && let Some(ours) = table(own, methods)
        {
            (*file).pMethods = ours;
        }
        opened
    }
}

/// Our table in the place of one of SQLite's.
fn table(own: &Own, methods: &sqlite3_io_methods) -> Option<*const sqlite3_io_methods> {
    let mut tables = TABLES.lock().ok()?;
    let address = ptr::from_ref(methods) as usize;
    if let Some((_, ours)) = tables.iter().find(|(of, _)| *of == address) {
        return Some(*ours as *const sqlite3_io_methods);
    }
    let three = (methods.xWrite?, methods.xTruncate?, methods.xSync?);
    let known = own.files.get_or_init(|| three);
    // All of SQLite's tables for a machine share these; one that does not is left alone.
    if (known.0 as usize, known.1 as usize, known.2 as usize) != (three.0 as usize, three.1 as usize, three.2 as usize)
    {
        return None;
    }
    // Sound: a table of function pointers, copied.
    let mut ours = Box::new(unsafe { ptr::read(methods) });
    ours.xWrite = Some(write);
    ours.xTruncate = Some(truncate);
    ours.xSync = Some(sync);
    let ours = ptr::from_mut(Box::leak(ours));
    tables.push((address, ours as usize));
    Some(ours)
}

fn files() -> Option<&'static (Write, Truncate, Sync)> {
    OWN.get()?.files.get()
}

unsafe extern "C" fn write(file: *mut sqlite3_file, bytes: *const c_void, length: c_int, at: sqlite3_int64) -> c_int {
    let Some((write, ..)) = files() else { return SQLITE_IOERR_WRITE };
    // Sound: handed on as it came; half of the bytes are bytes as well.
    unsafe {
        match next() {
            None => write(file, bytes, length, at),
            Some(Fault::Full) => SQLITE_FULL,
            Some(Fault::Refused) => SQLITE_IOERR_WRITE,
            Some(Fault::Short) => {
                write(file, bytes, length / 2, at);
                SQLITE_IOERR_WRITE
            }
        }
    }
}

unsafe extern "C" fn truncate(file: *mut sqlite3_file, size: sqlite3_int64) -> c_int {
    let Some((_, truncate, _)) = files() else { return SQLITE_IOERR_TRUNCATE };
    // Sound: handed on as it came.
    next().map_or_else(|| unsafe { truncate(file, size) }, |_| SQLITE_IOERR_TRUNCATE)
}

unsafe extern "C" fn sync(file: *mut sqlite3_file, flags: c_int) -> c_int {
    let Some((.., sync)) = files() else { return SQLITE_IOERR_FSYNC };
    // Sound: handed on as it came.
    next().map_or_else(|| unsafe { sync(file, flags) }, |_| SQLITE_IOERR_FSYNC)
}
