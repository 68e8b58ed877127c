//! The desk shared with phones on the local network: who is paired, by which code, for how long.
//!
//! A phone gets a door of its own: another port, bound to an address of the local network, whose
//! server knows nothing but the phone page. The desk itself stays on this machine. A phone comes
//! in with a code of six digits that is shown on the desk, holds for ten minutes, serves one phone
//! and dies at the fifth wrong try, so that guessing succeeds once in 200 000 codes; a new one is
//! made on the desk alone. Everything here is memory: closing the desk sends every phone away.
//!
//! What this cannot do: the local network carries plain HTTP, so whoever can listen in on it can
//! read the phone page and its token. The pages say so.

mod door;
mod routes;

use std::collections::VecDeque;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use crate::guard::{same, secret};

pub use routes::serve;

/// How long a code holds.
pub const CODE_LIFE: Duration = Duration::from_secs(600);
/// Wrong tries a code survives, less one.
pub const MOST_TRIES: u32 = 5;
/// Least time between two tries, from whomever.
pub const TRY_EVERY: Duration = Duration::from_millis(700);
/// How long a phone stays paired: a day of work.
pub const TOKEN_LIFE: Duration = Duration::from_secs(12 * 3600);
/// Phones paired at once.
pub const MOST_PHONES: usize = 8;
/// Notes a phone may send in a minute.
pub const NOTES_A_MINUTE: usize = 30;

/// A code that is shown on the desk.
struct Code {
    digits: String,
    until: Duration,
    wrong: u32,
}

/// A phone that is let in.
#[derive(Clone, Debug, PartialEq)]
pub struct Phone {
    /// Number on the desk.
    pub id: u64,
    /// Name its owner typed.
    pub name: String,
    /// Id of the room it says it is in; empty where it does not.
    pub room: String,
    /// Since when, from the beginning of the share.
    pub paired: Duration,
    /// When it last asked for something.
    pub seen: Duration,
    token: String,
    until: Duration,
    notes: VecDeque<Duration>,
}

#[derive(Default)]
struct Inner {
    code: Option<Code>,
    phones: Vec<Phone>,
    last_try: Option<Duration>,
    count: u64,
}

/// Why a phone is not let in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotPaired {
    /// The code is not the one shown.
    #[error("that is not the code; {0} more tries")]
    Wrong(u32),
    /// No code is shown now.
    #[error("no code holds now; ask for a new one at the desk")]
    NoCode,
    /// Another try was just now.
    #[error("too fast; wait a second and try again")]
    TooFast,
    /// Enough phones are paired.
    #[error("as many phones as there may be are paired; send one away at the desk")]
    Full,
    /// The system has no random numbers.
    #[error("the computer could not make a token")]
    System,
}

/// The share of one desk.
pub struct Share {
    /// Where the phone page is: `http://192.168.1.5:4711/`.
    pub address: String,
    /// The one name requests may come under.
    pub host: String,
    /// Name of the phone's cookie.
    pub cookie: String,
    begun: Instant,
    inner: Mutex<Inner>,
}

impl Share {
    /// A share at the address its door listens on, with a first code.
    ///
    /// # Errors
    /// The operating system's, where it has no random numbers.
    pub fn new(at: SocketAddr) -> std::io::Result<Share> {
        let share = Share {
            address: format!("http://{at}/"),
            host: at.to_string(),
            cookie: format!("wythe_phone_{}", at.port()),
            begun: Instant::now(),
            inner: Mutex::default(),
        };
        share.new_code(Duration::ZERO)?;
        Ok(share)
    }

    /// Time since the share began.
    pub fn now(&self) -> Duration {
        self.begun.elapsed()
    }

    fn inner(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Makes a new code in place of the old one.
    ///
    /// # Errors
    /// The operating system's, where it has no random numbers.
    pub fn new_code(&self, now: Duration) -> std::io::Result<()> {
        let digits = six_digits()?;
        self.inner().code = Some(Code { digits, until: now + CODE_LIFE, wrong: 0 });
        Ok(())
    }

    /// Takes the code away.
    pub fn no_code(&self) {
        self.inner().code = None;
    }

    /// The code and how long it still holds.
    pub fn code(&self, now: Duration) -> Option<(String, Duration)> {
        let inner = self.inner();
        let code = inner.code.as_ref().filter(|c| now < c.until)?;
        Some((code.digits.clone(), code.until - now))
    }

    /// Lets a phone in; gives its token.
    ///
    /// # Errors
    /// [`NotPaired`].
    pub fn pair(&self, now: Duration, given: &str, name: &str) -> Result<String, NotPaired> {
        let mut inner = self.inner();
        if inner.last_try.is_some_and(|t| now < t + TRY_EVERY) {
            return Err(NotPaired::TooFast);
        }
        inner.last_try = Some(now);
        inner.phones.retain(|p| now < p.until);
        if inner.phones.len() >= MOST_PHONES {
            return Err(NotPaired::Full);
        }
        let Some(code) = inner.code.as_mut().filter(|c| now < c.until) else {
            inner.code = None;
            return Err(NotPaired::NoCode);
        };
        if !same(given, &code.digits) {
            code.wrong += 1;
            let left = MOST_TRIES.saturating_sub(code.wrong);
            if left == 0 {
                inner.code = None;
                return Err(NotPaired::NoCode);
            }
            return Err(NotPaired::Wrong(left));
        }
        let token = secret().map_err(|_| NotPaired::System)?;
        inner.code = None;
        inner.count += 1;
        let id = inner.count;
        let name = plain(name, 40);
        inner.phones.push(Phone {
            id,
            name: if name.is_empty() { format!("phone {id}") } else { name },
            room: String::new(),
            paired: now,
            seen: now,
            token: token.clone(),
            until: now + TOKEN_LIFE,
            notes: VecDeque::new(),
        });
        Ok(token)
    }

    /// The phone a token belongs to.
    pub fn phone(&self, now: Duration, token: &str) -> Option<Phone> {
        let mut inner = self.inner();
        inner.phones.retain(|p| now < p.until);
        let mut found = None;
        // Every token is compared, so that the time does not tell which one was near.
        for (i, phone) in inner.phones.iter().enumerate() {
            if same(token, &phone.token) {
                found = Some(i);
            }
        }
        let phone = &mut inner.phones[found?];
        phone.seen = now;
        Some(phone.clone())
    }

    /// Remembers where a phone is.
    pub fn set_room(&self, id: u64, room: &str) {
        if let Some(phone) = self.inner().phones.iter_mut().find(|p| p.id == id) {
            phone.room = plain(room, 80);
        }
    }

    /// Whether a phone may send one more note now; counts it.
    pub fn may_note(&self, now: Duration, id: u64) -> bool {
        let mut inner = self.inner();
        let Some(phone) = inner.phones.iter_mut().find(|p| p.id == id) else { return false };
        let minute = Duration::from_secs(60);
        while phone.notes.front().is_some_and(|t| now.saturating_sub(*t) >= minute) {
            phone.notes.pop_front();
        }
        let may = phone.notes.len() < NOTES_A_MINUTE;
        if may {
            phone.notes.push_back(now);
        }
        may
    }

    /// Everybody who is let in.
    pub fn phones(&self, now: Duration) -> Vec<Phone> {
        let mut inner = self.inner();
        inner.phones.retain(|p| now < p.until);
        inner.phones.clone()
    }

    /// Sends a phone away.
    pub fn revoke(&self, id: u64) {
        self.inner().phones.retain(|p| p.id != id);
    }

    /// Sends every phone away, and takes the code away too.
    pub fn revoke_all(&self) {
        let mut inner = self.inner();
        inner.phones.clear();
        inner.code = None;
    }
}

/// Six random digits, every one of the million equally likely.
fn six_digits() -> std::io::Result<String> {
    // The largest multiple of a million below 2³²; what lies above would favour small codes.
    const FAIR: u32 = u32::MAX / 1_000_000 * 1_000_000;
    loop {
        let mut bytes = [0u8; 4];
        getrandom::fill(&mut bytes).map_err(|e| std::io::Error::other(e.to_string()))?;
        let number = u32::from_le_bytes(bytes);
        if number < FAIR {
            return Ok(format!("{:06}", number % 1_000_000));
        }
    }
}

/// Typed text as one line of bounded length.
pub fn plain(text: &str, most: usize) -> String {
    let one: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    one.split_whitespace().collect::<Vec<_>>().join(" ").chars().take(most).collect()
}

/// Whether an address belongs to this machine or a private network.
pub fn is_local(address: IpAddr) -> bool {
    match address {
        IpAddr::V4(v4) => v4.is_loopback() || v4.is_private() || v4.is_link_local(),
        IpAddr::V6(v6) => match v6.to_ipv4_mapped() {
            Some(v4) => is_local(IpAddr::V4(v4)),
            None => v6.is_loopback() || v6.is_unique_local() || v6.is_unicast_link_local(),
        },
    }
}

/// Why the desk is not shared.
#[derive(Debug, thiserror::Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum ShareError {
    /// No address of a local network.
    #[error("this computer has no address in a local network; join one, or name the address")]
    NoNetwork,
    /// Not an address.
    #[error("`{0}` is no address; write one of this computer's such as 192.168.1.5")]
    Address(String),
    /// An address others than neighbours reach.
    #[error("{0} is no address of a private network; the desk is shared only within one")]
    NotLocal(IpAddr),
}

/// Where to listen: as the user says, else where this machine is reached in its local network.
///
/// # Errors
/// [`ShareError`].
pub fn address(said: &str) -> Result<SocketAddr, ShareError> {
    let said = said.trim();
    let found = if said.is_empty() {
        // Nothing is sent: the system only says which of its addresses it would send from.
        let own = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0))
            .and_then(|s| s.connect((Ipv4Addr::new(10, 255, 255, 255), 9)).map(|()| s))
            .and_then(|s| s.local_addr())
            .map_err(|_| ShareError::NoNetwork)?;
        SocketAddr::new(own.ip(), 0)
    } else {
        let alone = said.parse::<IpAddr>().map(|ip| SocketAddr::new(ip, 0));
        alone.or_else(|_| said.parse()).map_err(|_| ShareError::Address(plain(said, 60)))?
    };
    if found.ip().is_unspecified() || !is_local(found.ip()) {
        return Err(ShareError::NotLocal(found.ip()));
    }
    if said.is_empty() && found.ip().is_loopback() {
        return Err(ShareError::NoNetwork);
    }
    Ok(found)
}

/// The computer's clock, as the survey writes it.
pub fn clock() -> String {
    jiff::Zoned::now().strftime("%Y-%m-%d %H:%M:%S%.1f%:z").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn share() -> Share {
        Share::new("127.0.0.1:4000".parse().unwrap()).unwrap()
    }

    fn at(seconds: u64) -> Duration {
        Duration::from_secs(seconds)
    }

    /// A code that is certainly not the one shown.
    fn wrong(code: &str) -> String {
        format!("{:06}", (code.parse::<u32>().unwrap() + 1) % 1_000_000)
    }

    #[test]
    fn a_code_lets_one_phone_in_once() {
        let share = share();
        let code = share.code(at(1)).unwrap().0;
        let token = share.pair(at(1), &code, " my\tphone ").unwrap();
        assert_eq!(share.phone(at(2), &token).unwrap().name, "my phone");
        assert_eq!(share.pair(at(3), &code, "another"), Err(NotPaired::NoCode));
        assert!(share.phone(at(2), &wrong("000000")).is_none());
        assert!(share.phone(at(2), "").is_none());
    }

    #[test]
    fn guessing_kills_the_code_at_the_fifth_try() {
        let share = share();
        let code = share.code(at(0)).unwrap().0;
        for left in (1..MOST_TRIES).rev() {
            let now = at(u64::from(20 - left));
            assert_eq!(share.pair(now, &wrong(&code), ""), Err(NotPaired::Wrong(left)));
        }
        assert_eq!(share.pair(at(30), &wrong(&code), ""), Err(NotPaired::NoCode));
        assert_eq!(share.pair(at(40), &code, ""), Err(NotPaired::NoCode), "even the right one");
        assert!(share.code(at(40)).is_none());
        share.new_code(at(50)).unwrap();
        let code = share.code(at(50)).unwrap().0;
        assert!(share.pair(at(51), &code, "").is_ok());
    }

    #[test]
    fn tries_that_come_too_fast_are_not_even_looked_at() {
        let share = share();
        let code = share.code(at(0)).unwrap().0;
        assert_eq!(share.pair(at(1), "", ""), Err(NotPaired::Wrong(4)));
        for ms in [0, 100, 699] {
            let now = at(1) + Duration::from_millis(ms);
            assert_eq!(share.pair(now, &code, ""), Err(NotPaired::TooFast));
        }
        assert!(share.pair(at(2), &code, "").is_ok());
    }

    #[test]
    fn codes_and_tokens_end() {
        let share = share();
        let code = share.code(at(599)).unwrap().0;
        assert!(share.code(CODE_LIFE).is_none());
        assert_eq!(share.pair(CODE_LIFE, &code, ""), Err(NotPaired::NoCode));
        share.new_code(CODE_LIFE).unwrap();
        let code = share.code(CODE_LIFE).unwrap().0;
        let begun = CODE_LIFE + at(5);
        let token = share.pair(begun, &code, "").unwrap();
        assert!(share.phone(begun + TOKEN_LIFE - at(1), &token).is_some());
        assert!(share.phone(begun + TOKEN_LIFE, &token).is_none());
    }

    #[test]
    fn a_phone_is_sent_away_and_there_are_not_too_many() {
        let share = share();
        let mut tokens = Vec::new();
        for n in 0..MOST_PHONES as u64 {
            share.new_code(at(10 * n)).unwrap();
            let code = share.code(at(10 * n)).unwrap().0;
            tokens.push(share.pair(at(10 * n), &code, "").unwrap());
        }
        share.new_code(at(200)).unwrap();
        let code = share.code(at(200)).unwrap().0;
        assert_eq!(share.pair(at(201), &code, ""), Err(NotPaired::Full));
        share.revoke(1);
        assert!(share.phone(at(202), &tokens[0]).is_none());
        assert!(share.phone(at(202), &tokens[1]).is_some());
        assert!(share.pair(at(203), &code, "").is_ok());
        share.revoke_all();
        assert!(share.phones(at(204)).is_empty() && share.phone(at(204), &tokens[1]).is_none());
    }

    #[test]
    fn notes_are_bounded_in_number() {
        let share = share();
        let code = share.code(at(0)).unwrap().0;
        let token = share.pair(at(1), &code, "").unwrap();
        let id = share.phone(at(1), &token).unwrap().id;
        assert!((0..NOTES_A_MINUTE).all(|_| share.may_note(at(2), id)));
        assert!(!share.may_note(at(3), id));
        assert!(share.may_note(at(62), id));
        assert!(!share.may_note(at(62), 99));
    }

    #[test]
    fn only_private_networks() {
        for good in ["127.0.0.1", "192.168.1.5", "10.0.0.7:4711", "172.31.0.1", "169.254.3.4"] {
            assert!(address(good).is_ok(), "{good}");
        }
        assert_eq!(address("10.0.0.7:4711").unwrap().port(), 4711);
        assert!(address("[fd00::2]:80").is_ok());
        for bad in ["0.0.0.0", "8.8.8.8", "172.32.0.1", "::", "2001:db8::1", "::ffff:8.8.8.8"] {
            assert!(matches!(address(bad), Err(ShareError::NotLocal(_))), "{bad}");
        }
        assert!(matches!(address("my-laptop"), Err(ShareError::Address(_))));
    }

    #[test]
    fn codes_have_six_digits_and_differ() {
        let all: Vec<String> = (0..50).map(|_| six_digits().unwrap()).collect();
        assert!(all.iter().all(|c| c.len() == 6 && c.bytes().all(|b| b.is_ascii_digit())));
        assert!(all.iter().any(|c| c != &all[0]));
    }

    #[test]
    fn the_clock_is_one_the_survey_reads() {
        assert!(wythe_project::Moment::parse(&clock()).is_some(), "{}", clock());
    }
}
