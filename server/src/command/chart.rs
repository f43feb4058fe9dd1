//! `handcall chart`: gloves for the sizes of the published European chart.

use std::path::PathBuf;

use analysis::draft::{ChartSize, DraftError, GloveOptions, european_chart, grade};
use analysis::hand::Side;
use analysis::model::HandModel;
use serde::de::DeserializeOwned;
use serde_json::Value;
use thiserror::Error;

use super::draft::paper;
use crate::dates::today;
use crate::export::SheetLabels;
use crate::export::pdf::{self, Paper, PdfError};
use crate::export::svg::{self, SvgUse};

/// `handcall chart`: drafts both gloves of every size of EN 420:2003+A1:2009, 6 to 11.
#[derive(Debug, clap::Args)]
pub struct ChartArgs {
    /// Folder for the drafts; made if it is missing.
    #[arg(long)]
    out: PathBuf,
    /// Paper: a4, letter, a3, tabloid, or a roll such as roll-914 (mm).
    #[arg(long, default_value = "a4", value_parser = paper)]
    paper: Paper,
    /// Construction: two_layer or fourchette.
    #[arg(long, default_value = "two_layer")]
    construction: String,
    /// Fingers: full, open_tips, to_end_joint or to_middle_joint.
    #[arg(long, default_value = "full")]
    finish: String,
    /// Fourchettes: pairs, pairs_with_quirks or forks.
    #[arg(long, default_value = "pairs")]
    fourchettes: String,
    /// Date on the pieces; today if left out.
    #[arg(long)]
    date: Option<String>,
}

/// Why no chart was drafted.
#[derive(Debug, Error)]
pub enum ChartError {
    /// A choice is unknown.
    #[error("--{0} {1} is not known; see --help")]
    Choice(&'static str, String),
    /// A size cannot be drafted.
    #[error("{0}: {1}")]
    Draft(String, DraftError),
    /// A sheet cannot be made.
    #[error(transparent)]
    Sheet(#[from] PdfError),
    /// A file cannot be written.
    #[error("{0} cannot be written: {1}")]
    File(PathBuf, std::io::Error),
}

fn chosen<T: DeserializeOwned>(name: &'static str, key: &str) -> Result<T, ChartError> {
    serde_json::from_value(Value::from(key)).map_err(|_| ChartError::Choice(name, key.to_owned()))
}

/// Runs the command.
///
/// # Errors
/// [`ChartError`].
pub fn run(args: &ChartArgs) -> Result<(), ChartError> {
    let options = GloveOptions {
        construction: chosen("construction", &args.construction)?,
        finish: chosen("finish", &args.finish)?,
        fourchettes: chosen("fourchettes", &args.fourchettes)?,
        ..GloveOptions::default()
    };
    let write = |name: String, bytes: Vec<u8>| {
        let file = args.out.join(name);
        std::fs::write(&file, bytes).map_err(|error| ChartError::File(file, error))
    };
    std::fs::create_dir_all(&args.out)
        .map_err(|error| ChartError::File(args.out.clone(), error))?;
    let chart = european_chart(&HandModel::published());
    for side in Side::BOTH {
        for (ChartSize { name, .. }, made) in chart.iter().zip(grade(&chart, side, &options)) {
            let made = made.map_err(|error| ChartError::Draft(name.clone(), error))?;
            let labels = SheetLabels {
                production: "EN 420:2003+A1:2009".to_owned(),
                performer_code: name.clone(),
                date: args.date.clone().unwrap_or_else(today),
                ..SheetLabels::default()
            };
            let stem = format!("{}-{}", name.replace(' ', "-"), side.key());
            write(format!("{stem}.svg"), svg::render(&made, &labels, SvgUse::Download).into())?;
            write(format!("{stem}.pdf"), pdf::render(&made, &labels, args.paper)?)?;
            println!("{stem}: {}", made.forecast.advice);
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_chart_is_written_for_both_hands_and_an_unknown_choice_is_refused() {
        let out = std::env::temp_dir().join(format!("handcall-chart-{}", std::process::id()));
        let mut args = ChartArgs {
            out: out.clone(),
            paper: Paper::A4,
            construction: "fourchette".to_owned(),
            finish: "full".to_owned(),
            fourchettes: "forks".to_owned(),
            date: Some("2026-03-14".to_owned()),
        };
        run(&args).expect("a chart");
        let files = std::fs::read_dir(&out).expect("a folder").count();
        assert_eq!(files, 2 * 2 * 6, "SVG and PDF of both hands in six sizes");
        let svg = std::fs::read_to_string(out.join("EN-8-left.svg")).expect("a drawing");
        assert!(svg.contains("EN 8 Left") && svg.contains("F1 F2"));
        args.finish = "mitten".to_owned();
        let refused = run(&args).expect_err("no such finish");
        assert!(refused.to_string().contains("--finish mitten"), "{refused}");
        std::fs::remove_dir_all(&out).expect("removed");
    }
}
