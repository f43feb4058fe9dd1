//! What a batch costs as the cast grows: time, memory and bytes written for 10, 100 and 1,000
//! performers, as a table and as one chart.
//!
//! `target/release/batch_cost demo-data/pictures/batch-cost.svg`, after
//! `cargo build --release` and `cargo build --release -p handcall-tests --bin batch_cost`.

use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use handcall_tests::place::{Scratch, command};
use handcall_tests::seeded::Seeded;

/// What one batch took.
struct Cost {
    performers: usize,
    seconds: f64,
    memory_mb: f64,
    written_mb: f64,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let out = std::env::args_os().nth(1).ok_or("usage: batch_cost CHART.svg")?;
    let (program, folder) = (command(), Scratch::new("batch-cost"));
    let costs: Result<Vec<Cost>, _> =
        [10, 100, 1000].into_iter().map(|cast| run(&program, folder.path(), cast)).collect();
    let costs = costs?;
    println!("performers  seconds  memory MB  written MB");
    for Cost { performers, seconds, memory_mb, written_mb } in &costs {
        println!("{performers:10}  {seconds:7.2}  {memory_mb:9.1}  {written_mb:10.1}");
    }
    std::fs::write(out, chart(&costs))?;
    Ok(())
}

/// Invented hands: the published medians of women and men (Greiner 1991), scattered evenly by 8 % either way.
fn roster(cast: usize) -> String {
    let mut random = Seeded::new(1);
    let mut text =
        "code,reference,right_hand_length,right_hand_girth,left_hand_length,right_middle_length\n"
            .to_owned();
    for number in 1..=cast {
        let (people, [length, girth, middle]) = if number % 2 == 0 {
            ("women", [181.0, 187.0, 78.0])
        } else {
            ("men", [194.0, 214.0, 84.0])
        };
        let size = random.between(920, 1081) as f64 / 1000.0;
        let [length, girth, middle] = [length, girth, middle].map(|mm: f64| (mm * size).round());
        let _ = writeln!(text, "P{number:04},{people},{length},{girth},{length},{middle}");
    }
    text
}

fn run(program: &Path, folder: &Path, cast: usize) -> Result<Cost, Box<dyn std::error::Error>> {
    let (csv, zip) = (folder.join("roster.csv"), folder.join("gloves.zip"));
    std::fs::write(&csv, roster(cast))?;
    let began = Instant::now();
    let mut child = Command::new(program)
        .arg("draft")
        .arg(&csv)
        .arg("--out")
        .arg(&zip)
        .stdout(Stdio::null())
        .spawn()?;
    let status = format!("/proc/{}/status", child.id());
    let mut memory_mb = 0.0_f64;
    let ended = loop {
        // The kernel keeps the peak; what is read last before the end is nearly the whole truth.
        memory_mb = memory_mb.max(peak_mb(&status));
        if let Some(ended) = child.try_wait()? {
            break ended;
        }
        sleep(Duration::from_millis(2));
    };
    let seconds = began.elapsed().as_secs_f64();
    if !ended.success() {
        return Err(format!("{} ended with {ended}", program.display()).into());
    }
    let written_mb = std::fs::metadata(&zip)?.len() as f64 / 1e6;
    Ok(Cost { performers: cast, seconds, memory_mb, written_mb })
}

fn peak_mb(status: &str) -> f64 {
    let text = std::fs::read_to_string(status).unwrap_or_default();
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kib = line.and_then(|rest| rest.trim().trim_end_matches("kB").trim().parse::<f64>().ok());
    kib.unwrap_or(0.0) * 1024.0 / 1e6
}

/// One of the costs.
type Value = fn(&Cost) -> f64;

/// Time, memory and bytes over performers, both axes by powers of ten. Each line has its own dash,
/// so that no colour is needed.
fn chart(costs: &[Cost]) -> String {
    const LEFT: f64 = 60.0;
    const TOP: f64 = 20.0;
    const DECADE: f64 = 90.0;
    let x = |performers: f64| LEFT + (performers.log10() - 1.0) * 2.0 * DECADE;
    let y = |value: f64| TOP + (3.0 - value.max(0.01).log10()) * DECADE;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 620 {}\" width=\"620\" font-family=\"sans-serif\" font-size=\"12\">\n<title>Batch of 10, 100 and 1,000 performers: seconds, memory, bytes written</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n",
        y(0.01) + 40.0
    );
    for power in -2..=3 {
        let value = 10_f64.powi(power);
        let at = y(value);
        let _ = writeln!(
            svg,
            "<path d=\"M{LEFT} {at}H{}\" stroke=\"#ccc\"/><text x=\"{}\" y=\"{}\" text-anchor=\"end\">{value}</text>",
            x(1000.0),
            LEFT - 6.0,
            at + 4.0
        );
    }
    for performers in [10, 100, 1000] {
        let at = x(f64::from(performers));
        let _ = writeln!(
            svg,
            "<text x=\"{at}\" y=\"{}\" text-anchor=\"middle\">{performers}</text>",
            y(0.01) + 18.0
        );
    }
    let _ = writeln!(
        svg,
        "<text x=\"{}\" y=\"{}\" text-anchor=\"middle\">performers, both gloves each</text>",
        x(100.0),
        y(0.01) + 34.0
    );
    let lines: [(&str, &str, Value); 3] = [
        ("seconds", "", |cost| cost.seconds),
        ("memory, MB", "7 4", |cost| cost.memory_mb),
        ("ZIP, MB", "2 3", |cost| cost.written_mb),
    ];
    let mut ends: Vec<(f64, String)> = Vec::new();
    for (name, dash, value) in lines {
        let mut path = String::new();
        let mut points = String::new();
        for (index, cost) in costs.iter().enumerate() {
            let to = if index == 0 { 'M' } else { 'L' };
            let (px, py) = (x(cost.performers as f64), y(value(cost)));
            let figure = format!("{:.*}", if value(cost) < 10.0 { 2 } else { 0 }, value(cost));
            let _ = write!(path, "{to}{px:.1} {py:.1}");
            let _ = writeln!(points, "<circle cx=\"{px:.1}\" cy=\"{py:.1}\" r=\"3\"/>");
            if index + 1 == costs.len() {
                ends.push((py, format!("{figure} <tspan font-weight=\"bold\">{name}</tspan>")));
            } else {
                // Beside the point away from the lines, which all rise; a halo keeps off the grid.
                let _ = writeln!(
                    points,
                    "<text x=\"{:.1}\" y=\"{:.1}\" stroke=\"#fff\" stroke-width=\"4\" paint-order=\"stroke\">{figure}</text>",
                    px + 8.0,
                    py + 16.0
                );
            }
        }
        let _ = writeln!(
            svg,
            "<path d=\"{path}\" fill=\"none\" stroke=\"#000\" stroke-width=\"1.5\" stroke-dasharray=\"{dash}\"/>"
        );
        svg += &points;
    }
    ends.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut free = f64::MIN;
    for (py, words) in ends {
        let at = (py + 4.0).max(free);
        free = at + 15.0;
        let _ = writeln!(svg, "<text x=\"{:.1}\" y=\"{at:.1}\">{words}</text>", x(1000.0) + 10.0);
    }
    svg.push_str("</svg>\n");
    svg
}
