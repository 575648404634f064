//! SHA-256 in lower-case hexadecimal: what files and keys are told apart by.

use sha2::{Digest, Sha256};
use std::fmt::Write;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// Bytes read at a time, so that a huge file is never in memory as a whole.
const CHUNK: usize = 64 * 1024;

/// The SHA-256 of some bytes.
///
/// ```
/// // FIPS 180-2, appendix B.1.
/// assert_eq!(
///     headword::value::sha256_hex(b"abc"),
///     "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
/// );
/// ```
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(Sha256::new_with_prefix(bytes))
}

/// The SHA-256 of a file's content.
pub fn sha256_file(path: &Path) -> io::Result<String> {
    let mut file = File::open(path)?;
    let mut hasher = Sha256::new();
    let mut chunk = vec![0; CHUNK];
    loop {
        match file.read(&mut chunk) {
            Ok(0) => return Ok(hex(hasher)),
            Ok(read) => hasher.update(&chunk[..read]),
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

/// The SHA-256 of several parts in their order. Each part counts with its length, so that `["ab", "c"]` and
/// `["a", "bc"]` differ.
pub fn sha256_parts<T: AsRef<[u8]>>(parts: impl IntoIterator<Item = T>) -> String {
    let mut hasher = Sha256::new();
    for part in parts {
        let part = part.as_ref();
        hasher.update((part.len() as u64).to_le_bytes());
        hasher.update(part);
    }
    hex(hasher)
}

fn hex(hasher: Sha256) -> String {
    let digest = hasher.finalize();
    digest.iter().fold(String::new(), |mut text, byte| {
        write!(text, "{byte:02x}").expect("writing to a string cannot fail");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_hashes_like_its_bytes_and_parts_keep_their_limits() {
        let content = vec![7; CHUNK + 3];
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), &content).unwrap();
        assert_eq!(sha256_file(file.path()).unwrap(), sha256_hex(&content));
        assert!(sha256_file(Path::new("/no/such/file")).is_err());
        assert_ne!(sha256_parts(["ab", "c"]), sha256_parts(["a", "bc"]));
        assert_ne!(sha256_parts(["a", ""]), sha256_parts(["a"]));
    }
}
