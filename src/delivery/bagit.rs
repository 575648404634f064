//! The texts of a bag: RFC 8493, "The BagIt File Packaging Format (V1.0)", October 2018 (from memory; bags are checked
//! with another program in the tests).

use super::brief;
use thiserror::Error;

/// The folder of what is delivered, below the bag's.
pub const PAYLOAD: &str = "data/";
pub const DECLARATION: &str = "bagit.txt";
pub const INFO: &str = "bag-info.txt";
pub const MANIFEST: &str = "manifest-sha256.txt";
pub const TAG_MANIFEST: &str = "tagmanifest-sha256.txt";

/// What makes a folder a bag.
pub const DECLARED: &str = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";

/// A file of a manifest.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Sum {
    /// Below the bag, with `/` between the parts.
    pub path: String,
    /// SHA-256 in lower-case hexadecimal.
    pub sha256: String,
}

/// A line of a manifest that cannot be understood.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{file}, line {line}: expected a SHA-256 and a path below the bag, found {found}")]
pub struct ManifestFault {
    pub file: &'static str,
    pub line: usize,
    pub found: String,
}

/// A manifest's text, sorted by path, so that the same files always give the same text.
pub fn manifest(sums: &[Sum]) -> String {
    let mut sorted: Vec<&Sum> = sums.iter().collect();
    sorted.sort();
    let line = |sum: &&Sum| format!("{}  {}\n", sum.sha256, encoded(&sum.path));
    sorted.iter().map(line).collect()
}

/// The files of a manifest; a path that would lead out of the bag is a fault, and so is one that stands twice.
pub fn read_manifest(file: &'static str, text: &str) -> (Vec<Sum>, Vec<ManifestFault>) {
    let (mut sums, mut faults) = (Vec::new(), Vec::new());
    let mut seen = std::collections::HashSet::new();
    for (line, text) in (1..).zip(text.lines()) {
        if text.trim().is_empty() {
            continue;
        }
        let sum = text.split_once([' ', '\t']).and_then(|(sha256, path)| {
            let path = decoded(path.trim_start_matches([' ', '\t', '*']));
            let is_hash = sha256.len() == 64 && sha256.chars().all(|c| c.is_ascii_hexdigit());
            let stays = !path.starts_with('/')
                && path.split('/').all(|part| !matches!(part, "" | "." | ".."));
            (is_hash && stays && seen.insert(path.clone())).then(|| Sum {
                path,
                sha256: sha256.to_ascii_lowercase(),
            })
        });
        match sum {
            Some(sum) => sums.push(sum),
            None => faults.push(ManifestFault {
                file,
                line,
                found: brief(text),
            }),
        }
    }
    (sums, faults)
}

/// The bag's own words: label and value a line. A line break in a value would begin another label.
pub fn info(lines: &[(&str, String)]) -> String {
    let clean = |value: &str| value.split_whitespace().collect::<Vec<_>>().join(" ");
    let line = |(label, value): &(&str, String)| format!("{label}: {}\n", clean(value));
    lines.iter().map(line).collect()
}

/// Line breaks and the sign that encodes them.
fn encoded(path: &str) -> String {
    path.replace('%', "%25")
        .replace('\n', "%0A")
        .replace('\r', "%0D")
}

fn decoded(path: &str) -> String {
    let breaks = [
        ("%0A", "\n"),
        ("%0a", "\n"),
        ("%0D", "\r"),
        ("%0d", "\r"),
        ("%25", "%"),
    ];
    breaks
        .iter()
        .fold(path.to_owned(), |path, (code, c)| path.replace(code, c))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn manifests_come_back_and_stay_in_the_bag() {
        let sum = |path: &str| Sum {
            path: path.to_owned(),
            sha256: "ab".repeat(32),
        };
        let mut sums = vec![sum("data/b"), sum("data/a b"), sum("data/100%\nx\r")];
        let text = manifest(&sums);
        assert_eq!(text.lines().count(), 3);
        sums.sort();
        assert_eq!(read_manifest(MANIFEST, &text), (sums, vec![]));
        let hash = "AB".repeat(32);
        for path in ["../x", "/etc/passwd", "data/../../x", "data//x", "", "."] {
            let (sums, faults) = read_manifest(MANIFEST, &format!("{hash}  {path}\n"));
            assert_eq!((sums.len(), faults.len()), (0, 1), "{path}");
        }
        let twice = format!("{hash} data/x\n{hash} *data/x\n\nnonsense\n");
        let (sums, faults) = read_manifest(MANIFEST, &twice);
        assert_eq!(sums, [sum("data/x")]);
        let lines: Vec<usize> = faults.iter().map(|fault| fault.line).collect();
        assert_eq!(lines, [2, 4]);
        assert_eq!(info(&[("A", "b\nC: d".to_owned())]), "A: b C: d\n");
    }
}
