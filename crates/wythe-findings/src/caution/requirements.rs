//! Published guidance on how quiet a room should be, and how well homes are kept apart.
//!
//! A table to start a conversation from. None of it is law where the reader stands, most of it
//! was written for another purpose than music next door, and the user's own limits come first.

use wythe_building::care::Purpose;
use wythe_building::{Building, RoomIndex, Target};

/// Sentence printed with every row of the table.
pub const NOT_LAW: &str = "published guidance, not law; what binds here is the law of the place, \
                           the contract and what was agreed with the neighbour";

/// Kinds of receiver.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Receiver {
    /// Recording room or mixing room.
    Studio,
    /// Room for critical listening.
    CriticalListening,
    /// Practice or rehearsal room for a band.
    Practice,
    /// Living room of a dwelling.
    Living,
    /// Bedroom of a dwelling.
    Bedroom,
    /// In front of a dwelling.
    OutsideDwelling,
    /// Wall or floor between dwellings.
    BetweenDwellings,
    /// A person, whatever room.
    Person,
}

impl Receiver {
    /// All kinds, in the order of the table.
    pub const ALL: [Receiver; 8] = [
        Receiver::Studio,
        Receiver::CriticalListening,
        Receiver::Practice,
        Receiver::Living,
        Receiver::Bedroom,
        Receiver::OutsideDwelling,
        Receiver::BetweenDwellings,
        Receiver::Person,
    ];

    /// Kind of a room of this purpose.
    pub fn of(purpose: Purpose) -> Receiver {
        match purpose {
            Purpose::Recording => Receiver::Studio,
            Purpose::Listening => Receiver::CriticalListening,
            Purpose::Practice => Receiver::Practice,
            Purpose::Living => Receiver::Living,
            Purpose::Bedroom => Receiver::Bedroom,
            Purpose::OutsideDwelling => Receiver::OutsideDwelling,
        }
    }

    /// Name for people.
    pub fn words(self) -> &'static str {
        match self {
            Receiver::Studio => "recording or mixing room",
            Receiver::CriticalListening => "critical listening room",
            Receiver::Practice => "practice room",
            Receiver::Living => "living room",
            Receiver::Bedroom => "bedroom",
            Receiver::OutsideDwelling => "outside a dwelling",
            Receiver::BetweenDwellings => "between dwellings",
            Receiver::Person => "a person",
        }
    }
}

/// Exactly what a value is a value of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// NC curve of the room's own noise.
    Nc,
    /// NR curve of the room's own noise.
    Nr,
    /// A-weighted level of the room by itself, dBA.
    BackgroundA,
    /// L_Aeq over the hours stated, dBA.
    LAeq,
    /// L_Amax, fast, of single events, dBA.
    LAFmax,
    /// L_night, a yearly average outdoors, dBA.
    LNight,
    /// L_Aeq over 24 h, a yearly average of all leisure noise, dBA.
    LAeq24hYear,
    /// STC by laboratory test.
    StcLaboratory,
    /// The same class by field test.
    StcField,
    /// D_nT,w + C_tr by field test, dB.
    DnTwCtr,
    /// L′_nT,w by field test, dB.
    LnTw,
}

impl Quantity {
    /// Symbol and unit as printed.
    pub fn words(self) -> &'static str {
        match self {
            Quantity::Nc => "NC",
            Quantity::Nr => "NR",
            Quantity::BackgroundA => "background, dBA",
            Quantity::LAeq => "LAeq, dBA",
            Quantity::LAFmax => "LAFmax, dBA",
            Quantity::LNight => "Lnight, dBA",
            Quantity::LAeq24hYear => "LAeq,24h as a yearly average, dBA",
            Quantity::StcLaboratory => "STC, laboratory",
            Quantity::StcField => "STC, field test",
            Quantity::DnTwCtr => "DnT,w + Ctr, dB",
            Quantity::LnTw => "L'nT,w, dB",
        }
    }

    /// Whether more is better.
    pub fn at_least(self) -> bool {
        matches!(self, Quantity::StcLaboratory | Quantity::StcField | Quantity::DnTwCtr)
    }
}

/// How well a row is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Mark {
    /// Seen in a public source: the document or a public copy of its table.
    Seen,
    /// Seen as somebody else restates it.
    SecondHand,
    /// From memory; open the document before it is used.
    FromMemory,
}

impl Mark {
    /// Words as printed.
    pub fn words(self) -> &'static str {
        match self {
            Mark::Seen => "seen in a public copy",
            Mark::SecondHand => "second-hand",
            Mark::FromMemory => "from memory, open the document before use",
        }
    }
}

/// One published value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guidance {
    /// For which receiver.
    pub receiver: Receiver,
    /// What it is a value of.
    pub quantity: Quantity,
    /// The value, or the ends of the printed range, the stricter end first.
    pub value: (f64, f64),
    /// Hours it applies to, as printed; `None` for any.
    pub hours: Option<&'static str>,
    /// Where it holds or was written for.
    pub country: &'static str,
    /// Who published it, with edition and clause.
    pub edition: &'static str,
    /// Key in the table of sources.
    pub key: &'static str,
    /// How well it is known here.
    pub mark: Mark,
    /// What has to be said beside it.
    pub note: &'static str,
}

impl Guidance {
    /// One line: quantity, value, hours, who says so, how well that is known.
    pub fn text(&self) -> String {
        let sign = match self.quantity {
            // What people called quiet is no limit.
            Quantity::BackgroundA => "usually",
            q if q.at_least() => "at least",
            _ => "at most",
        };
        let value = if self.value.0 == self.value.1 {
            format!("{}", self.value.0)
        } else {
            format!("{} to {}", self.value.0, self.value.1)
        };
        let hours = self.hours.map_or_else(String::new, |h| format!(", {h}"));
        format!(
            "{} {sign} {value}{hours}: {} ({}; {})",
            self.quantity.words(),
            self.edition,
            self.country,
            self.mark.words()
        )
    }
}

/// The table.
pub static GUIDANCE: &[Guidance] = &[
    Guidance {
        receiver: Receiver::Studio,
        quantity: Quantity::Nc,
        value: (15.0, 20.0),
        hours: None,
        country: "international",
        edition: "handbook of studio acoustics, chapter on criteria",
        key: "studio-handbook",
        mark: Mark::Seen,
        note: "NC and NR are often swapped in this use; NC has no value at 31.5 Hz",
    },
    Guidance {
        receiver: Receiver::Studio,
        quantity: Quantity::Nr,
        value: (15.0, 20.0),
        hours: None,
        country: "international",
        edition: "handbook of studio acoustics, chapter on criteria",
        key: "studio-handbook",
        mark: Mark::Seen,
        note: "25 dBA or less is called very quiet there",
    },
    Guidance {
        receiver: Receiver::CriticalListening,
        quantity: Quantity::Nr,
        value: (10.0, 15.0),
        hours: None,
        country: "international",
        edition: "ITU-R BS.1116",
        key: "itu-r-bs1116",
        mark: Mark::FromMemory,
        note: "NR 10 wanted, NR 15 not to be exceeded",
    },
    Guidance {
        receiver: Receiver::Practice,
        quantity: Quantity::Nc,
        value: (25.0, 35.0),
        hours: None,
        country: "United States, military",
        edition: "UFC 4-171-04AN (2005)",
        key: "ufc-4-171-04an",
        mark: Mark::Seen,
        note: "the copy seen is stamped cancelled; 25 in the quietest rooms, about 35 for practice",
    },
    Guidance {
        receiver: Receiver::Living,
        quantity: Quantity::BackgroundA,
        value: (30.0, 40.0),
        hours: None,
        country: "international",
        edition: "handbook of studio acoustics, chapter on criteria",
        key: "studio-handbook",
        mark: Mark::Seen,
        note: "what owners of ordinary living rooms called quiet; not a limit",
    },
    Guidance {
        receiver: Receiver::Living,
        quantity: Quantity::LAeq,
        value: (35.0, 35.0),
        hours: Some("16 h, day and evening"),
        country: "international",
        edition: "WHO Guidelines for Community Noise (1999), Table 4.1",
        key: "who-1999",
        mark: Mark::Seen,
        note: "lower values where bass is strong; A weighting is called inappropriate for it there",
    },
    Guidance {
        receiver: Receiver::Bedroom,
        quantity: Quantity::LAeq,
        value: (30.0, 30.0),
        hours: Some("8 h, night"),
        country: "international",
        edition: "WHO Guidelines for Community Noise (1999), Table 4.1",
        key: "who-1999",
        mark: Mark::Seen,
        note: "lower values where bass is strong; look at the bands when LC - LA is above 10 dB",
    },
    Guidance {
        receiver: Receiver::Bedroom,
        quantity: Quantity::LAFmax,
        value: (45.0, 45.0),
        hours: Some("night"),
        country: "international",
        edition: "WHO Guidelines for Community Noise (1999), Table 4.1",
        key: "who-1999",
        mark: Mark::Seen,
        note: "for single events; a stroke of a drum is one",
    },
    Guidance {
        receiver: Receiver::OutsideDwelling,
        quantity: Quantity::LAeq,
        value: (45.0, 45.0),
        hours: Some("8 h, night, bedroom window open"),
        country: "international",
        edition: "WHO Guidelines for Community Noise (1999), Table 4.1",
        key: "who-1999",
        mark: Mark::Seen,
        note: "outside the bedroom",
    },
    Guidance {
        receiver: Receiver::OutsideDwelling,
        quantity: Quantity::LAFmax,
        value: (60.0, 60.0),
        hours: Some("night, bedroom window open"),
        country: "international",
        edition: "WHO Guidelines for Community Noise (1999), Table 4.1",
        key: "who-1999",
        mark: Mark::Seen,
        note: "outside the bedroom",
    },
    Guidance {
        receiver: Receiver::OutsideDwelling,
        quantity: Quantity::LNight,
        value: (40.0, 55.0),
        hours: Some("night, yearly average"),
        country: "Europe",
        edition: "WHO Night Noise Guidelines for Europe (2009)",
        key: "who-2009",
        mark: Mark::Seen,
        note: "40 is the lowest level with observed harm, 55 an interim target, 30 no effect",
    },
    Guidance {
        receiver: Receiver::BetweenDwellings,
        quantity: Quantity::StcLaboratory,
        value: (50.0, 50.0),
        hours: None,
        country: "United States, model code",
        edition: "IBC (2006), section 1207, now 1206",
        key: "ibc-2006",
        mark: Mark::SecondHand,
        note: "homes beside homes; an amplified room beside such a wall misses by tens of decibels",
    },
    Guidance {
        receiver: Receiver::BetweenDwellings,
        quantity: Quantity::StcField,
        value: (45.0, 45.0),
        hours: None,
        country: "United States, model code",
        edition: "IBC (2006), section 1207, now 1206",
        key: "ibc-2006",
        mark: Mark::SecondHand,
        note: "homes beside homes",
    },
    Guidance {
        receiver: Receiver::BetweenDwellings,
        quantity: Quantity::DnTwCtr,
        value: (45.0, 45.0),
        hours: None,
        country: "England, new build",
        edition: "Approved Document E",
        key: "approved-document-e",
        mark: Mark::FromMemory,
        note: "homes beside homes",
    },
    Guidance {
        receiver: Receiver::BetweenDwellings,
        quantity: Quantity::DnTwCtr,
        value: (43.0, 43.0),
        hours: None,
        country: "England, conversion",
        edition: "Approved Document E",
        key: "approved-document-e",
        mark: Mark::FromMemory,
        note: "homes beside homes",
    },
    Guidance {
        receiver: Receiver::BetweenDwellings,
        quantity: Quantity::LnTw,
        value: (62.0, 62.0),
        hours: None,
        country: "England, new build",
        edition: "Approved Document E",
        key: "approved-document-e",
        mark: Mark::SecondHand,
        note: "footsteps, not music",
    },
    Guidance {
        receiver: Receiver::BetweenDwellings,
        quantity: Quantity::LnTw,
        value: (64.0, 64.0),
        hours: None,
        country: "England, conversion",
        edition: "Approved Document E",
        key: "approved-document-e",
        mark: Mark::SecondHand,
        note: "footsteps, not music",
    },
    Guidance {
        receiver: Receiver::Person,
        quantity: Quantity::LAeq24hYear,
        value: (70.0, 70.0),
        hours: Some("24 h, yearly average"),
        country: "Europe",
        edition: "WHO Environmental Noise Guidelines (2018)",
        key: "who-2018",
        mark: Mark::Seen,
        note: "all leisure noise of one person; there is no indoor value for a neighbour's music",
    },
];

/// Rows for a kind of receiver, in the order of the table.
pub fn guidance(receiver: Receiver) -> impl Iterator<Item = &'static Guidance> {
    GUIDANCE.iter().filter(move |g| g.receiver == receiver)
}

/// What is asked of a room: the user's own, or published.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Asked<'a> {
    /// A target of the project.
    Own(&'a Target),
    /// A row of the table.
    Published(&'static Guidance),
}

/// What is asked of a room, the user's own limits first, then what is published for rooms of its
/// kind, where the description says what the room is for.
pub fn asked_of(building: &Building, room: RoomIndex) -> Vec<Asked<'_>> {
    let own = building.targets.iter().filter(|t| t.room == room).map(Asked::Own);
    let said = building.care.rooms.iter().find(|r| r.room == room).and_then(|r| r.purpose);
    own.chain(said.map(Receiver::of).into_iter().flat_map(guidance).map(Asked::Published)).collect()
}
