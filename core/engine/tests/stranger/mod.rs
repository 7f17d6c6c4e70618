//! Others on the same network: somebody who answers as they like, and a line between two devices that is cut or held.

use evenwire_core::sync::{OFFER_HOST, Offer, serving};
use rustls::{ServerConfig, ServerConnection, StreamOwned};
use std::io::{Read, Write};
use std::net::{Ipv4Addr, Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Condvar, Mutex};

fn listen() -> (TcpListener, SocketAddr) {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let at = listener.local_addr().unwrap();
    (listener, at)
}

/// Somebody with a certificate of their own, who gives the same answer to every request.
pub struct Stranger {
    at: SocketAddr,
    certificate: Vec<u8>,
    heard: Arc<Mutex<String>>,
}

impl Stranger {
    /// Says `answer`, and then nothing, and leaves the line open.
    pub fn that_answers(answer: Vec<u8>) -> Stranger {
        Stranger::new(answer, false)
    }

    /// Answers, and never comes to an end.
    pub fn without_end() -> Stranger {
        Stranger::new(b"HTTP/1.1 200 OK\r\ntransfer-encoding: chunked\r\n\r\n".to_vec(), true)
    }

    fn new(answer: Vec<u8>, endless: bool) -> Stranger {
        let made = rcgen::generate_simple_self_signed(vec![OFFER_HOST.to_owned()]).unwrap();
        let certificate = made.cert.der().to_vec();
        let shows = serving(vec![certificate.clone()], made.signing_key.serialize_der()).unwrap();
        let (listener, at) = listen();
        let heard = Arc::new(Mutex::new(String::new()));
        let hears = heard.clone();
        std::thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                let (shows, answer, hears) = (shows.clone(), answer.clone(), hears.clone());
                std::thread::spawn(move || talk(stream, shows, (&answer, endless), &hears));
            }
        });
        Stranger { at, certificate, heard }
    }

    pub fn address(&self) -> String {
        self.at.to_string()
    }

    /// What it would show on its screen.
    pub fn offer(&self, code: &str) -> Offer {
        Offer::new(vec![self.address()], &self.certificate, code.to_owned())
    }

    /// Everything that was said to it, but for agreeing on a key.
    pub fn heard(&self) -> String {
        self.heard.lock().unwrap().clone()
    }
}

/// Whoever leaves ends it.
fn talk(stream: TcpStream, shows: Arc<ServerConfig>, (answer, endless): (&[u8], bool), hears: &Mutex<String>) {
    let mut tls = StreamOwned::new(ServerConnection::new(shows).unwrap(), stream);
    let mut piece = [0; 4_096];
    while let Ok(length @ 1..) = tls.read(&mut piece) {
        let text = String::from_utf8_lossy(&piece[..length]).into_owned();
        let whole = text.contains("\r\n\r\n");
        hears.lock().unwrap().push_str(&text);
        if whole && tls.write_all(answer).and_then(|()| tls.flush()).is_err() {
            return;
        }
        if whole && endless {
            let chunk = [b"10000\r\n".as_slice(), &[0; 0x1_0000], b"\r\n"].concat();
            while tls.write_all(&chunk).is_ok() {}
            return;
        }
    }
}

/// What a line does with the bytes that come from the giver.
#[derive(Clone, Copy)]
enum After {
    Cut,
    Hold,
}

/// A line between two devices.
pub struct Line {
    at: SocketAddr,
    gate: Arc<(Mutex<bool>, Condvar)>,
    carried: Arc<AtomicUsize>,
    deaf: Arc<Mutex<bool>>,
}

impl Line {
    /// Is cut when so many bytes came from the giver.
    pub fn cut_after(bytes: usize, to: &str) -> Line {
        Line::new((bytes, After::Cut), to)
    }

    /// Carries no more than so many bytes from the giver until it is let go.
    pub fn held_after(bytes: usize, to: &str) -> Line {
        Line::new((bytes, After::Hold), to)
    }

    /// Swallows what is said to the giver after the file has come.
    pub fn without_second_request(self) -> Line {
        *self.deaf.lock().unwrap() = true;
        self
    }

    pub fn let_go(&self) {
        *self.gate.0.lock().unwrap() = true;
        self.gate.1.notify_all();
    }

    pub fn address(&self) -> String {
        self.at.to_string()
    }

    /// Bytes that came from the giver.
    pub fn carried(&self) -> usize {
        self.carried.load(Ordering::SeqCst)
    }

    fn new(limit: (usize, After), to: &str) -> Line {
        let (listener, at) = listen();
        let line = Line { at, gate: Arc::default(), carried: Arc::default(), deaf: Arc::default() };
        let (to, gate, carried, deaf) = (to.to_owned(), line.gate.clone(), line.carried.clone(), line.deaf.clone());
        std::thread::spawn(move || {
            for near in listener.incoming().flatten() {
                let Ok(far) = TcpStream::connect(&to) else { continue };
                let there = (near.try_clone().unwrap(), far.try_clone().unwrap());
                let (gate, carried, deaf) = (gate.clone(), carried.clone(), deaf.clone());
                let came = carried.clone();
                std::thread::spawn(move || towards(there, (&deaf, &came)));
                std::thread::spawn(move || back((far, near), limit, (&gate, &carried)));
            }
        });
        line
    }
}

/// The file came when more was carried than agreeing on a key takes.
const A_FILE: usize = 10_000;

fn towards((mut from, mut to): (TcpStream, TcpStream), (deaf, carried): (&Mutex<bool>, &AtomicUsize)) {
    let mut piece = [0; 4_096];
    while let Ok(length @ 1..) = from.read(&mut piece) {
        if *deaf.lock().unwrap() && carried.load(Ordering::SeqCst) > A_FILE {
            continue;
        }
        if to.write_all(&piece[..length]).is_err() {
            break;
        }
    }
    let _gone = to.shutdown(Shutdown::Both);
}

fn back(
    (mut from, mut to): (TcpStream, TcpStream),
    limit: (usize, After),
    shared: (&(Mutex<bool>, Condvar), &AtomicUsize),
) {
    let (mut left, after) = limit;
    let ((open, changed), carried) = shared;
    let mut piece = [0; 4_096];
    loop {
        if left == 0 {
            match after {
                After::Cut => break,
                After::Hold => {
                    let _open = changed.wait_while(open.lock().unwrap(), |open| !*open).unwrap();
                    left = usize::MAX;
                }
            }
        }
        let most = left.min(piece.len());
        let Ok(length @ 1..) = from.read(&mut piece[..most]) else { break };
        left -= length;
        carried.fetch_add(length, Ordering::SeqCst);
        if to.write_all(&piece[..length]).is_err() {
            break;
        }
    }
    let _gone = (to.shutdown(Shutdown::Both), from.shutdown(Shutdown::Both));
}
