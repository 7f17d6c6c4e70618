//! The line between devices and hub.

use super::HERE;
use anyhow::Result;
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

/// A line between devices and hub: every connection carries so many bytes there, and is cut then.
#[derive(Clone, Debug)]
pub struct Line {
    /// Where devices go.
    pub at: SocketAddr,
    leads_to: Arc<std::sync::Mutex<Option<SocketAddr>>>,
    /// State of the chances, 0: the line holds.
    chances: Arc<AtomicU64>,
    /// How often it was cut.
    pub cuts: Arc<AtomicU64>,
}

impl Line {
    /// A line that leads nowhere yet.
    ///
    /// # Errors
    /// No port is free.
    pub async fn begin() -> Result<Line> {
        let listener = TcpListener::bind(HERE).await?;
        let line = Line {
            at: listener.local_addr()?,
            leads_to: Arc::default(),
            chances: Arc::default(),
            cuts: Arc::default(),
        };
        let this = line.clone();
        tokio::spawn(async move {
            while let Ok((from, _)) = listener.accept().await {
                let line = this.clone();
                tokio::spawn(async move { line.carry(from).await });
            }
        });
        Ok(line)
    }

    /// From here on it is cut by chance; 0: it holds.
    pub fn cut_by(&self, seed: u64) {
        self.chances.store(seed, Ordering::SeqCst);
    }

    /// From here on it leads there.
    pub fn lead_to(&self, hub: SocketAddr) {
        *self.leads_to.lock().expect("nobody panics with it") = Some(hub);
    }

    /// From here on nobody answers.
    pub fn lead_nowhere(&self) {
        *self.leads_to.lock().expect("nobody panics with it") = None;
    }

    /// Bytes until the next cut: hellos, requests and answers of a device of a job with photos are some ten thousand.
    fn chance(&self) -> Option<u64> {
        let before = self.chances.load(Ordering::SeqCst);
        if before == 0 {
            return None;
        }
        // Steele, Lea and Flood's mixing: small seeds give unlike numbers.
        let next = before.wrapping_add(0x9E37_79B9_7F4A_7C15);
        self.chances.store(next.max(1), Ordering::SeqCst);
        let mixed = (next ^ (next >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        Some(500 + mixed % 12_000)
    }

    async fn carry(self, from: TcpStream) {
        let to = *self.leads_to.lock().expect("nobody panics with it");
        let Some(to) = to else { return };
        let Ok(to) = TcpStream::connect(to).await else { return };
        let left = Arc::new(AtomicU64::new(self.chance().unwrap_or(u64::MAX)));
        let ((from_read, from_write), (to_read, to_write)) = (from.into_split(), to.into_split());
        // Either way may use up what is left, so that answers are lost as well as questions.
        tokio::select! {
            () = pour(from_read, to_write, left.clone()) => {}
            () = pour(to_read, from_write, left.clone()) => {}
        }
        if left.load(Ordering::SeqCst) == 0 {
            self.cuts.fetch_add(1, Ordering::SeqCst);
        }
    }
}

async fn pour(mut from: tokio::net::tcp::OwnedReadHalf, mut to: tokio::net::tcp::OwnedWriteHalf, left: Arc<AtomicU64>) {
    let mut bytes = [0; 4_096];
    while let Ok(count @ 1..) = from.read(&mut bytes).await {
        let before = left.load(Ordering::SeqCst);
        let goes = before.min(count as u64);
        left.store(before - goes, Ordering::SeqCst);
        if to.write_all(&bytes[..goes as usize]).await.is_err() || goes < count as u64 || before == goes {
            return;
        }
    }
}
