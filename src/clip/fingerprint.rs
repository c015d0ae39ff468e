//! A fingerprint that ties results to the exact file they came from.

use std::fmt::Write as _;
use std::fs::File;
use std::io::Read as _;
use std::path::Path;

use sha2::{Digest as _, Sha256};

use super::ClipError;
use super::error::reading;

/// SHA-256 of a file's bytes as 64 lower-case hexadecimal digits; reads in small pieces.
///
/// # Errors
/// [`ClipError`] when the file is missing, is a directory or cannot be read.
pub fn sha256_of_file(path: &Path) -> Result<String, ClipError> {
    let mut file = File::open(path).map_err(|source| reading(path, source))?;
    let mut hasher = Sha256::new();
    let mut piece = vec![0_u8; 1 << 16];
    loop {
        let count = match file.read(&mut piece) {
            Ok(0) => break,
            Ok(count) => count,
            Err(source) if source.kind() == std::io::ErrorKind::Interrupted => continue,
            Err(source) => return Err(reading(path, source)),
        };
        hasher.update(&piece[..count]);
    }
    let mut digits = String::with_capacity(64);
    for byte in hasher.finalize() {
        // Writing to a String cannot fail.
        let _ignored = write!(digits, "{byte:02x}");
    }
    Ok(digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Test vectors "abc" and the empty message of NIST FIPS 180-4 (examples, SHA-256).
    #[test]
    fn published_vectors_come_out() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("abc");
        std::fs::write(&path, b"abc").unwrap();
        assert_eq!(
            sha256_of_file(&path).unwrap(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        std::fs::write(&path, b"").unwrap();
        assert_eq!(
            sha256_of_file(&path).unwrap(),
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
        );
    }

    #[test]
    fn a_missing_file_and_a_directory_say_so() {
        let folder = tempfile::tempdir().unwrap();
        let missing = sha256_of_file(&folder.path().join("none"));
        assert!(matches!(missing, Err(ClipError::NoSuchFile { .. })));
        let directory = sha256_of_file(folder.path());
        assert!(matches!(directory, Err(ClipError::IsDirectory { .. })));
    }
}
