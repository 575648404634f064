//! Warns of journals on network drives, where SQLite's locks and write-ahead log cannot be relied on.

use crate::value::{Finding, Severity, Station};
use std::path::Path;

/// `f_type` of statfs(2) for file systems of other machines: Linux, `include/uapi/linux/magic.h`. FUSE tells nothing of
/// what is behind it, which may be a disk of this machine.
const NETWORK: [(u32, &str); 9] = [
    (0x0000_6969, "NFS"),
    (0x0000_517b, "SMB"),
    (0xfe53_4d42, "SMB"),
    (0xff53_4d42, "CIFS"),
    (0x5346_414f, "AFS"),
    (0x6b41_4653, "AFS"),
    (0x00c3_6400, "Ceph"),
    (0x0102_1997, "9P"),
    (
        0x6573_5546,
        "FUSE, which sshfs and other network drives use",
    ),
];

/// A warning where the folder of a journal is on a network drive; none where it is not or nobody can tell.
pub fn network_finding(folder: &Path) -> Option<Finding> {
    let system = rustix::fs::statfs(folder).ok()?;
    let name = network_name(system.f_type as u32)?;
    Some(Finding::new(
        Severity::Warning,
        Station::Job,
        "network-drive",
        format!(
            "the job's folder is, or may be, on a network drive ({name}); headword.db is safe only on a disk of the machine that all \
             clerks work on; move the job there if this is none"
        ),
    ))
}

/// The network file system of this magic number.
fn network_name(magic: u32) -> Option<&'static str> {
    let found = NETWORK.iter().find(|(known, _)| *known == magic);
    found.map(|(_, name)| *name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drives_of_other_machines_are_told_from_disks() {
        // ext4, tmpfs and overlayfs of the same header.
        for disk in [0xef53, 0x0102_1994, 0x794c_7630] {
            assert_eq!(network_name(disk), None, "{disk:x}");
        }
        assert_eq!(network_name(0x6969), Some("NFS"));
        assert_eq!(network_finding(Path::new("/proc")), None);
        assert_eq!(network_finding(Path::new("/no/such/folder")), None);
    }
}
