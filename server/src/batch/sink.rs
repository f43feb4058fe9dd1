//! Where the files of a batch go.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use zip::write::{SimpleFileOptions, StreamWriter};
use zip::{CompressionMethod, ZipWriter};

/// Takes files one after another.
pub trait Sink {
    /// Takes one file.
    ///
    /// # Errors
    /// When it cannot be written.
    fn file(&mut self, name: &str, bytes: &[u8]) -> io::Result<()>;
}

/// A ZIP written as a stream: nothing of it stays in memory but its table of contents. Entries
/// carry no time, so that the same batch gives the same bytes.
pub struct ZipSink<W: Write> {
    zip: ZipWriter<StreamWriter<W>>,
}

impl<W: Write> std::fmt::Debug for ZipSink<W> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("ZipSink").finish_non_exhaustive()
    }
}

impl<W: Write> ZipSink<W> {
    /// Starts a ZIP.
    pub fn new(to: W) -> ZipSink<W> {
        ZipSink { zip: ZipWriter::new_stream(to) }
    }

    /// Writes the table of contents and hands the writer back.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn finish(self) -> io::Result<W> {
        let mut to = self.zip.finish().map_err(into_io)?.into_inner();
        to.flush()?;
        Ok(to)
    }
}

impl<W: Write> Sink for ZipSink<W> {
    fn file(&mut self, name: &str, bytes: &[u8]) -> io::Result<()> {
        // A PDF is packed inside already; packing it again costs time and saves little.
        let is_packed = Path::new(name).extension().is_some_and(|extension| extension == "pdf");
        let method =
            if is_packed { CompressionMethod::Stored } else { CompressionMethod::Deflated };
        let options = SimpleFileOptions::default()
            .last_modified_time(zip::DateTime::default())
            .compression_method(method);
        self.zip.start_file(name, options).map_err(into_io)?;
        self.zip.write_all(bytes)
    }
}

fn into_io(error: zip::result::ZipError) -> io::Error {
    match error {
        zip::result::ZipError::Io(error) => error,
        other => io::Error::other(other),
    }
}

/// A folder. Each file is written beside its place and then moved there, so that nobody finds a
/// half-written one.
#[derive(Debug)]
pub struct FolderSink {
    folder: PathBuf,
}

impl FolderSink {
    /// Makes the folder if need be.
    ///
    /// # Errors
    /// When it cannot be made.
    pub fn new(folder: &Path) -> io::Result<FolderSink> {
        fs::create_dir_all(folder)?;
        Ok(FolderSink { folder: folder.to_owned() })
    }
}

impl Sink for FolderSink {
    fn file(&mut self, name: &str, bytes: &[u8]) -> io::Result<()> {
        let unfinished = self.folder.join(format!("{name}.part"));
        let result = File::create(&unfinished)
            .and_then(|mut file| file.write_all(bytes))
            .and_then(|()| fs::rename(&unfinished, self.folder.join(name)));
        if result.is_err() {
            // The first error is the one to report.
            let _ = fs::remove_file(&unfinished);
        }
        result
    }
}
