//! Phones posting readings to a real server on loopback: how long an answer takes, how many
//! readings a second are committed, how much memory the server holds.
//!
//! `cargo build --release -p handcall -p handcall-tests` and then
//! `target/release/load [--phones 50] [--seconds 20] [--pace-ms 0] [--spread 1]` starts `handcall`
//! from the same folder with a data folder of its own and stops by itself. With `--pace-ms 0` every
//! phone posts again as soon as it is answered; otherwise that often: all phones in the same
//! moment, or with `--spread 1` one after another through the pace, as people would.

use std::io::{Error, Result};
use std::time::{Duration, Instant};

use analysis::model::Population;
use handcall::store::performer::NewPerformer;
use handcall::store::{Conn, Store, performer, production};
use handcall_tests::place::{Scratch, command};
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop};
use uuid::Uuid;

/// Readings one performer is given; the store takes 500.
const READINGS_EACH: usize = 450;

/// Performers prepared for each phone.
const PERFORMERS_EACH: usize = 12;

/// The load never lasts longer, whatever is asked.
const LONGEST: u64 = 300;

struct Asked {
    phones: usize,
    seconds: u64,
    pace: Duration,
    is_spread: bool,
}

fn main() -> Result<()> {
    let asked = asked()?;
    let folder = Scratch::new("load");
    let performers = prepare(&folder, asked.phones)?;
    let server = Running::start_command(&command(), folder.path())?;
    let desk = Workshop::open(&server)?;
    std::thread::sleep(Duration::from_secs(2));
    let at_rest = server.resident_bytes().unwrap_or_default();
    let started = Instant::now();
    let end = started + Duration::from_secs(asked.seconds);
    let times: Vec<Duration> = std::thread::scope(|scope| {
        let phones: Vec<_> = performers
            .chunks(PERFORMERS_EACH)
            .zip(0_u32..)
            .map(|(own, number)| {
                let phone = desk.twin();
                let pace = asked.pace;
                let phones = u32::try_from(asked.phones).unwrap_or(u32::MAX);
                let later = if asked.is_spread { pace * number / phones } else { Duration::ZERO };
                scope.spawn(move || post(phone, own, started + later, end, pace))
            })
            .collect();
        phones
            .into_iter()
            .map(|phone| phone.join().map_err(|_| Error::other("a phone stopped"))?)
            .collect::<Result<Vec<_>>>()
    })?
    .concat();
    let lasted = started.elapsed().as_secs_f64();
    let loaded = server.resident_bytes().unwrap_or_default();
    server.kill()?;
    let mut sorted = times;
    sorted.sort();
    let at = |share: f64| {
        let index = (share * (sorted.len().saturating_sub(1)) as f64).round() as usize;
        sorted.get(index).copied().unwrap_or_default().as_secs_f64() * 1e3
    };
    println!("{} phones, {lasted:.1} s, every {} ms", asked.phones, asked.pace.as_millis());
    println!("answers: {}, {:.0} a second", sorted.len(), sorted.len() as f64 / lasted);
    println!(
        "median {:.1} ms, 99th percentile {:.1} ms, longest {:.1} ms",
        at(0.5),
        at(0.99),
        at(1.0)
    );
    println!("memory: {:.1} MB at rest, {:.1} MB after the load", mb(at_rest), mb(loaded));
    println!("SQLite alone, one commit a reading: {:.0} a second", sqlite_alone(&folder)?);
    Ok(())
}

fn mb(bytes: u64) -> f64 {
    bytes as f64 / 1e6
}

fn asked() -> Result<Asked> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = |name: &str, default: u64| {
        let at = words.iter().position(|word| word == name);
        at.map_or(Ok(default), |at| {
            let value = words.get(at + 1).and_then(|value| value.parse().ok());
            value.ok_or_else(|| Error::other(format!("{name} needs a number")))
        })
    };
    Ok(Asked {
        phones: usize::try_from(number("--phones", 50)?.clamp(1, 500)).unwrap_or(50),
        seconds: number("--seconds", 20)?.clamp(1, LONGEST),
        pace: Duration::from_millis(number("--pace-ms", 0)?),
        is_spread: number("--spread", 0)? > 0,
    })
}

fn prepare(folder: &Scratch, phones: usize) -> Result<Vec<Uuid>> {
    let store = Store::open(&folder.path().join("handcall.sqlite")).map_err(Error::other)?;
    store
        .write_now(move |c| {
            let mut all = Vec::new();
            for phone in 0..phones {
                let home = production::add(c, &format!("Load {phone}"))?;
                for at in 0..PERFORMERS_EACH {
                    let new = NewPerformer {
                        code: format!("L{at}"),
                        name: String::new(),
                        population: Population::Adults,
                        fabric: None,
                        note: String::new(),
                    };
                    all.push(performer::add(c, home, &new)?);
                }
            }
            Ok(all)
        })
        .map_err(Error::other)
}

/// One phone: measures its performers in turn, and notes how long each answer took.
fn post(
    mut phone: Workshop,
    performers: &[Uuid],
    started: Instant,
    end: Instant,
    pace: Duration,
) -> Result<Vec<Duration>> {
    let dimensions = analysis::dimension::Dimension::ALL;
    let mut times = Vec::new();
    for turn in 0.. {
        let Some(performer) = performers.get(turn / READINGS_EACH) else { break };
        if !pace.is_zero() {
            let count = u32::try_from(turn).unwrap_or(u32::MAX);
            std::thread::sleep((started + pace * count).saturating_duration_since(Instant::now()));
        }
        if Instant::now() >= end {
            break;
        }
        let dimension = dimensions.get(turn % dimensions.len()).map_or("hand_length", |d| d.key());
        let side = if turn % 2 == 0 { "right" } else { "left" };
        let reading =
            Sent { id: Uuid::now_v7(), side, dimension, value: (60 + turn % 120).to_string() };
        let asked = Instant::now();
        let answer = phone.post_readings(&performer.to_string(), &[reading])?;
        times.push(asked.elapsed());
        if answer.status != 200 {
            return Err(Error::other(format!("{}: {}", answer.status, answer.text())));
        }
    }
    Ok(times)
}

/// Commits a second of the same insert by SQLite on the same disk, without a server.
fn sqlite_alone(folder: &Scratch) -> Result<f64> {
    let c = Conn::open(folder.path().join("alone.sqlite")).map_err(Error::other)?;
    c.execute_batch(
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;
         CREATE TABLE reading (id BLOB PRIMARY KEY, performer BLOB, typed TEXT, mm REAL) STRICT;",
    )
    .map_err(Error::other)?;
    let started = Instant::now();
    let mut count = 0_u32;
    while started.elapsed() < Duration::from_secs(3) {
        let id = Uuid::now_v7();
        let row = (id.as_bytes().to_vec(), id.as_bytes().to_vec(), "181", 181.0);
        c.execute("INSERT INTO reading VALUES (?1, ?2, ?3, ?4)", row).map_err(Error::other)?;
        count += 1;
    }
    Ok(f64::from(count) / started.elapsed().as_secs_f64())
}
