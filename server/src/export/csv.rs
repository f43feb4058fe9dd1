//! Tables as CSV that a spreadsheet opens without running anything.

/// A table as CSV after RFC 4180: comma, quotes where needed, CR LF.
#[must_use]
pub fn table(header: &[&str], rows: Vec<Vec<String>>) -> Vec<u8> {
    let mut writer =
        csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    // Writing to memory with rows of one length cannot fail; a failure would leave a short table.
    let _ = writer.write_record(header);
    for row in rows {
        let _ = writer.write_record(row.iter().map(|cell| guarded(cell)));
    }
    writer.into_inner().unwrap_or_default()
}

/// A cell that no spreadsheet takes for a formula: one that begins with `=`, `+`, `-`, `@`, a tab
/// or a line break gets an apostrophe in front (source: OWASP, "CSV Injection").
#[must_use]
pub fn guarded(cell: &str) -> String {
    if cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']) {
        format!("'{cell}")
    } else {
        cell.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_disarmed_and_quotes_doubled() {
        let rows = vec![
            vec!["=1+1".to_owned(), "a,b \"c\"".to_owned()],
            vec!["-2".to_owned(), String::new()],
        ];
        let text = String::from_utf8(table(&["x", "y"], rows)).expect("UTF-8");
        assert_eq!(text, "x,y\r\n'=1+1,\"a,b \"\"c\"\"\"\r\n'-2,\r\n");
    }
}
