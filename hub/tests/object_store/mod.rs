//! A stand-in for an object store, and the line to it, which can be troubled.

use evenwire_hub::blobs::BucketAddress;
use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex, OnceLock, mpsc};
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;

/// How long the stand-in may take to be there.
const DEADLINE: Duration = Duration::from_secs(120);

/// Ends the program with whoever started it: when nobody holds the other end of its input any more.
const KEEPER: &str = r#"
"$1" -H 127.0.0.1 -p 0 </dev/null 2>&1 &
cat >/dev/null
kill "$!"
"#;

/// What is wrong with the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    Nothing,
    /// Whatever is asked is answered with 500.
    Refuses,
    /// Half of what is asked gets through, then the line is cut.
    CutsAsk,
    /// All of what is asked gets through, and half of the answer comes back.
    CutsAnswer,
    /// Nothing gets through and nothing is answered.
    Silent,
    /// The last byte that is answered is another one.
    Wrong,
}

/// A bucket at the stand-in, and the line to it.
pub struct Line {
    pub bucket: String,
    trouble: watch::Sender<Trouble>,
    /// What was asked: method and path.
    asked: Arc<Mutex<Vec<String>>>,
    at: SocketAddr,
    store: SocketAddr,
}

impl Line {
    pub async fn to(bucket: &str) -> Line {
        let store = tokio::task::spawn_blocking(stand_in).await.unwrap();
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let (trouble, troubled) = watch::channel(Trouble::Nothing);
        let (asked, at) = (Arc::new(Mutex::new(Vec::new())), listener.local_addr().unwrap());
        let line = Line { bucket: bucket.to_owned(), trouble, asked: asked.clone(), at, store };
        tokio::spawn(async move {
            while let Ok((came, _)) = listener.accept().await {
                tokio::spawn(carry(came, store, (troubled.clone(), asked.clone())));
            }
        });
        let made =
            direct(store, &format!("PUT /{bucket} HTTP/1.1\r\nhost: 127.0.0.1\r\ncontent-length: 0\r\n\r\n")).await;
        assert!(made.starts_with(b"HTTP/1.1 200"), "{}", String::from_utf8_lossy(&made));
        line
    }

    /// Where a hub finds it.
    pub fn address(&self, prefix: &str) -> BucketAddress {
        let keys = [
            ("AWS_ENDPOINT_URL", format!("http://{}", self.at)),
            ("AWS_REGION", "us-east-1".to_owned()),
            ("AWS_ACCESS_KEY_ID", "hub".to_owned()),
            ("AWS_SECRET_ACCESS_KEY", "hush".to_owned()),
            ("AWS_ALLOW_HTTP", "true".to_owned()),
            ("AWS_TIMEOUT", "1s".to_owned()),
        ];
        let address: BucketAddress = format!("s3://{}/{prefix}", self.bucket).parse().unwrap();
        address.with(keys.map(|(name, value)| (name.to_owned(), value)))
    }

    pub fn troubled(&self, trouble: Trouble) {
        self.trouble.send_replace(trouble);
    }

    /// What was asked since this was called last.
    pub fn asked(&self) -> Vec<String> {
        std::mem::take(&mut self.asked.lock().unwrap())
    }

    /// What lies in the bucket, told by the stand-in itself.
    pub async fn bytes(&self, path: &str) -> Option<Vec<u8>> {
        let ask = format!("GET /{}/{path} HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n", self.bucket);
        let answer = direct(self.store, &ask).await;
        let (head, body) = parts(&answer);
        head.starts_with("HTTP/1.1 200").then(|| body.to_vec())
    }

    /// Takes something away behind the hub's back.
    pub async fn lose(&self, path: &str) {
        let ask = format!("DELETE /{}/{path} HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n", self.bucket);
        assert!(direct(self.store, &ask).await.starts_with(b"HTTP/1.1 204"));
    }
}

/// The stand-in that the tests of this process share.
fn stand_in() -> SocketAddr {
    static SHARED: OnceLock<(SocketAddr, Mutex<Child>)> = OnceLock::new();
    SHARED.get_or_init(begin).0
}

fn begin() -> (SocketAddr, Mutex<Child>) {
    let program = std::env::var("EVENWIRE_MOTO").expect("EVENWIRE_MOTO=$(tests/scripts/moto.sh)");
    let mut command = Command::new("sh");
    command.args(["-c", KEEPER, "sh", &program]).stdin(Stdio::piped()).stdout(Stdio::piped());
    let mut child = command.spawn().unwrap();
    let said = BufReader::new(child.stdout.take().unwrap());
    let (tell, told) = mpsc::channel();
    // Whatever it says has to be read, or it waits.
    std::thread::spawn(move || {
        for line in said.lines().map_while(Result::ok) {
            if let Some((_, at)) = line.split_once("Running on http://") {
                let _ = tell.send(at.trim().parse());
            }
        }
    });
    let at = told.recv_timeout(DEADLINE).expect("the stand-in says where it listens").expect("an address");
    (at, Mutex::new(child))
}

/// The stand-in looks whether somebody signs, and not how.
const SIGNED: &str = "authorization: AWS4-HMAC-SHA256 Credential=test/20261126/us-east-1/s3/aws4_request, \
    SignedHeaders=host, Signature=00";

async fn direct(store: SocketAddr, ask: &str) -> Vec<u8> {
    let mut stream = TcpStream::connect(store).await.unwrap();
    let ask = ask.replace("\r\n\r\n", &format!("\r\n{SIGNED}\r\nconnection: close\r\n\r\n"));
    stream.write_all(ask.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).await.unwrap();
    answer
}

/// One request and its answer.
async fn carry(
    mut came: TcpStream,
    store: SocketAddr,
    (mut troubled, asked): (watch::Receiver<Trouble>, Arc<Mutex<Vec<String>>>),
) -> Option<()> {
    let ask = whole(&mut came).await?;
    let first = String::from_utf8_lossy(ask.split(|byte| *byte == b'\r').next()?).into_owned();
    asked.lock().unwrap().push(first.rsplit_once(' ')?.0.to_owned());
    let trouble = *troubled.borrow_and_update();
    if trouble == Trouble::Silent {
        // Until there is another trouble, or none.
        troubled.changed().await.ok()?;
        return None;
    }
    if trouble == Trouble::Refuses {
        let refusal = b"HTTP/1.1 500 Internal Server Error\r\ncontent-length: 0\r\nconnection: close\r\n\r\n";
        return came.write_all(refusal).await.ok();
    }
    let mut led = TcpStream::connect(store).await.ok()?;
    if trouble == Trouble::CutsAsk {
        return led.write_all(&ask[..ask.len() - ask.len() / 4]).await.ok();
    }
    led.write_all(&ask).await.ok()?;
    let mut answer = Vec::new();
    led.read_to_end(&mut answer).await.ok()?;
    match trouble {
        Trouble::CutsAnswer => answer.truncate(answer.len() / 2),
        Trouble::Wrong if !parts(&answer).1.is_empty() => *answer.last_mut()? ^= 1,
        _ => {}
    }
    came.write_all(&answer).await.ok()
}

/// A request with all of its body; the line is asked to close after it.
async fn whole(came: &mut TcpStream) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    loop {
        let (head, body) = parts(&bytes);
        let length = head.lines().find_map(|line| {
            let (name, value) = line.split_once(':')?;
            name.eq_ignore_ascii_case("content-length").then(|| value.trim().parse::<usize>().ok())?
        });
        if !head.is_empty() && body.len() >= length.unwrap_or(0) {
            let end = head.len();
            bytes.splice(end - 2..end - 2, *b"connection: close\r\n");
            return Some(bytes);
        }
        if came.read_buf(&mut bytes).await.ok()? == 0 {
            return None;
        }
    }
}

/// Head and body; no head where it is not whole.
fn parts(bytes: &[u8]) -> (&str, &[u8]) {
    let end = bytes.windows(4).position(|four| four == b"\r\n\r\n").map_or(0, |at| at + 4);
    (std::str::from_utf8(&bytes[..end]).unwrap_or_default(), &bytes[end..])
}
