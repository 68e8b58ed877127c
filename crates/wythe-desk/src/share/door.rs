//! The door phones come through: neighbours only, few at a time, and nobody stays for long.

use std::collections::BTreeMap;
use std::future::Future;
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;

use axum::serve::Listener;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::time::{Instant, Sleep, sleep, sleep_until};

use super::is_local;

/// Lines open at once from one address; a browser opens six.
const MOST_EACH: usize = 8;
/// Lines open at once altogether.
const MOST: usize = 64;
/// A line ends after this, however slowly it sends; a browser opens another.
const LONGEST: Duration = Duration::from_secs(60);

type Counts = Arc<Mutex<BTreeMap<IpAddr, usize>>>;

/// A listener that counts.
pub struct Door {
    inner: TcpListener,
    counts: Counts,
}

impl Door {
    /// A door at a listener.
    pub fn new(inner: TcpListener) -> Door {
        Door { inner, counts: Counts::default() }
    }

    fn let_in(&self, from: IpAddr) -> Option<Place> {
        if !is_local(from) {
            return None;
        }
        let mut counts = self.counts.lock().unwrap_or_else(PoisonError::into_inner);
        let own = counts.get(&from).copied().unwrap_or(0);
        if own >= MOST_EACH || counts.values().sum::<usize>() >= MOST {
            return None;
        }
        counts.insert(from, own + 1);
        Some(Place { from, counts: self.counts.clone() })
    }
}

/// One of the places, given back when the line ends.
struct Place {
    from: IpAddr,
    counts: Counts,
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut counts = self.counts.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(own) = counts.get_mut(&self.from) {
            *own -= 1;
            if *own == 0 {
                counts.remove(&self.from);
            }
        }
    }
}

impl Listener for Door {
    type Io = Line;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Line, SocketAddr) {
        loop {
            match self.inner.accept().await {
                Ok((stream, from)) => {
                    if let Some(place) = self.let_in(from.ip()) {
                        let end = Box::pin(sleep_until(Instant::now() + LONGEST));
                        return (Line { stream, end, _place: place }, from);
                    }
                }
                // Such as too many open files: others get time to close theirs.
                Err(_) => sleep(Duration::from_millis(200)).await,
            }
        }
    }

    fn local_addr(&self) -> io::Result<SocketAddr> {
        self.inner.local_addr()
    }
}

/// A line with an end.
pub struct Line {
    stream: TcpStream,
    end: Pin<Box<Sleep>>,
    _place: Place,
}

impl AsyncRead for Line {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        if self.end.as_mut().poll(cx).is_ready() {
            return Poll::Ready(Err(io::ErrorKind::TimedOut.into()));
        }
        Pin::new(&mut self.stream).poll_read(cx, buffer)
    }
}

impl AsyncWrite for Line {
    fn poll_write(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        if self.end.as_mut().poll(cx).is_ready() {
            return Poll::Ready(Err(io::ErrorKind::TimedOut.into()));
        }
        Pin::new(&mut self.stream).poll_write(cx, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strangers_and_crowds_stay_outside() {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let door =
            runtime.block_on(async { Door::new(TcpListener::bind("127.0.0.1:0").await.unwrap()) });
        assert!(door.let_in("8.8.8.8".parse().unwrap()).is_none());
        let one: IpAddr = "192.168.1.5".parse().unwrap();
        let mut lines: Vec<Place> = (0..MOST_EACH).filter_map(|_| door.let_in(one)).collect();
        assert_eq!(lines.len(), MOST_EACH);
        assert!(door.let_in(one).is_none());
        lines.pop();
        assert!(door.let_in(one).is_some(), "a place that is given back is free");
        for n in 0..100u8 {
            let from = IpAddr::from([10, 0, 0, n]);
            lines.extend(door.let_in(from));
        }
        assert!(lines.len() <= MOST);
        assert!(door.let_in("127.0.0.1".parse().unwrap()).is_none());
    }
}
