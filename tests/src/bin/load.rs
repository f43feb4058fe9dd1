//! Phones posting readings to a real server on loopback: how long an answer takes, how many
//! readings a second are committed, how much memory the server holds.
//!
//! `cargo build --release -p handcall -p handcall-tests` and then
//! `target/release/load [--phones 50] [--seconds 20] [--pace-ms 0] [--spread 1] [--batch 1]` starts `handcall`
//! from the same folder with a data folder of its own and stops by itself. With `--pace-ms 0` every
//! phone posts again as soon as it is answered; otherwise that often: all phones in the same
//! moment, or with `--spread 1` one after another through the pace, as people would. With
//! `--batch 1` a batch of 200 performers runs all the while. At the end what was acknowledged is
//! counted in the database.

use std::io::{Error, Result};
use std::sync::{LazyLock, Mutex};
use std::time::{Duration, Instant};

use analysis::dimension::Dimension;
use analysis::hand::{Hands, Side};
use analysis::model::{FilledHands, HandModel, Population};
use handcall::store::performer::NewPerformer;
use handcall::store::reading::Reading;
use handcall::store::{Conn, Store, check, performer, production, reading};
use handcall_tests::page::{forms, links};
use handcall_tests::place::{Scratch, command};
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop};
use uuid::Uuid;

/// Readings one performer is given: every dimension of both hands, and some repeats.
const READINGS_EACH: usize = 60;

/// Performers prepared for each phone; a production holds 2,000.
const PERFORMERS_EACH: usize = 400;

/// Performers in the batch.
const IN_THE_BATCH: usize = 200;

/// The load never lasts longer, whatever is asked.
const LONGEST: u64 = 300;

struct Asked {
    phones: usize,
    seconds: u64,
    pace: Duration,
    is_spread: bool,
    has_batch: bool,
}

fn main() -> Result<()> {
    let asked = asked()?;
    let folder = Scratch::new("load");
    let (performers, production) = prepare(&folder, asked.phones)?;
    let before = readings_in(&folder)?;
    let server = Running::start_command(&command(), folder.path())?;
    let desk = Workshop::open(&server)?;
    std::thread::sleep(Duration::from_secs(2));
    let at_rest = server.resident_bytes().unwrap_or_default();
    let started = Instant::now();
    let end = started + Duration::from_secs(asked.seconds);
    let memory = Mutex::new(Vec::new());
    let times: Vec<Duration> = std::thread::scope(|scope| {
        scope.spawn(|| {
            while Instant::now() < end {
                std::thread::sleep(Duration::from_secs(1));
                if let (Some(bytes), Ok(mut memory)) = (server.resident_bytes(), memory.lock()) {
                    memory.push(mb(bytes));
                }
            }
        });
        if asked.has_batch {
            let desk = desk.twin();
            let production = production.to_string();
            scope.spawn(move || keep_a_batch_running(desk, &production, end));
        }
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
    server.kill()?;
    let held = readings_in(&folder)? - before;
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
    let memory = memory.into_inner().unwrap_or_default();
    let part = |share: usize| memory.get(memory.len() * share / 4).copied().unwrap_or_default();
    println!(
        "memory: {:.1} MB at rest; {:.1}, {:.1}, {:.1}, {:.1} MB after each quarter",
        mb(at_rest),
        part(1),
        part(2),
        part(3),
        memory.last().copied().unwrap_or_default()
    );
    println!("acknowledged {}, in the database {held}", sorted.len());
    if held != sorted.len() as i64 {
        return Err(Error::other("what was acknowledged and what is held differ"));
    }
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
        has_batch: number("--batch", 0)? > 0,
    })
}

/// Readings in the closed database, which must be sound.
fn readings_in(folder: &Scratch) -> Result<i64> {
    let report = check::file(&folder.path().join("handcall.sqlite")).map_err(Error::other)?;
    if report.is_sound() { Ok(report.readings) } else { Err(Error::other("it is damaged")) }
}

/// Starts a batch whenever none runs, until the end. The phones notice if it fails: it is one more
/// thing the server does.
fn keep_a_batch_running(mut desk: Workshop, production: &str, end: Instant) {
    let path = format!("/productions/{production}/batches");
    while Instant::now() < end {
        if let Ok(page) = desk.client.get(&path) {
            let page = page.text();
            let is_running = links(&page, "/batches/").iter().any(|to| to.ends_with("/cancel"));
            let form = forms(&page).into_iter().find(|form| form.action == path);
            if let Some(form) = form.filter(|_| !is_running)
                && let Err(error) = desk.client.post_form(&path, &form.with("", ""))
            {
                eprintln!("batch: {error}");
            }
        }
        std::thread::sleep(Duration::from_millis(500));
    }
}

fn prepare(folder: &Scratch, phones: usize) -> Result<(Vec<Uuid>, Uuid)> {
    let store = Store::open(&folder.path().join("handcall.sqlite")).map_err(Error::other)?;
    store
        .write_now(move |c| {
            let mut all = Vec::new();
            for phone in 0..phones {
                let home = production::add(c, &format!("Load {phone}"))?;
                for at in 0..PERFORMERS_EACH {
                    let new = NewPerformer { code: format!("L{at}"), ..somebody() };
                    all.push(performer::add(c, home, &new)?);
                }
            }
            let production = production::add(c, "Batch")?;
            for at in 0..IN_THE_BATCH {
                let new = NewPerformer { code: format!("B{at}"), ..somebody() };
                let id = performer::add(c, production, &new)?;
                for dimension in Dimension::ALL {
                    reading::add(c, &measured(id, dimension, at))?;
                }
            }
            Ok((all, production))
        })
        .map_err(Error::other)
}

fn somebody() -> NewPerformer {
    NewPerformer {
        code: String::new(),
        name: String::new(),
        population: Population::Adults,
        fabric: None,
        call: String::new(),
        note: String::new(),
    }
}

/// A plausible size of a dimension, mm: the published mean of women and men, and a hand larger or
/// smaller by turns.
fn plausible_mm(dimension: Dimension, at: usize) -> f64 {
    static MEANS: LazyLock<FilledHands> = LazyLock::new(|| {
        HandModel::published().fill(Population::Adults, &Hands::from_readings(&[]))
    });
    MEANS.side(Side::Right).get(dimension).mm * (0.97 + 0.01 * (at % 7) as f64)
}

/// What a measurer types: plausible, but one in twenty-seven is typed in the wrong unit (assumed).
fn typed(dimension: Dimension, turn: usize) -> String {
    let mm = plausible_mm(dimension, turn / READINGS_EACH);
    if turn % 27 == 26 { format!("{:.1}", mm / 10.0) } else { format!("{mm:.0}") }
}

fn measured(performer: Uuid, dimension: Dimension, at: usize) -> Reading {
    let mm = plausible_mm(dimension, at);
    Reading {
        id: Uuid::now_v7(),
        performer,
        side: Side::Right,
        dimension,
        typed: format!("{mm:.0}"),
        unit: "mm".to_owned(),
        mm: mm.round(),
        instrument: "tape".to_owned(),
        origin: "import".to_owned(),
        measurer: "load".to_owned(),
        device: "load".to_owned(),
        taken_ms: 0,
    }
}

/// One phone: measures its performers in turn, and notes how long each answer took.
fn post(
    mut phone: Workshop,
    performers: &[Uuid],
    started: Instant,
    end: Instant,
    pace: Duration,
) -> Result<Vec<Duration>> {
    let dimensions = Dimension::ALL;
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
        let Some(&dimension) = dimensions.get(turn % dimensions.len()) else { break };
        let side = if turn % 2 == 0 { "right" } else { "left" };
        let value = typed(dimension, turn);
        let reading = Sent { id: Uuid::now_v7(), side, dimension: dimension.key(), value };
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
