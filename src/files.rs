//! Files written whole, and never over anything but the program's own earlier output of the same kind.
//!
//! Every output goes through here: written beside its target, forced to disk, renamed into place, the folder forced to disk. A
//! symbolic link is not followed, a device never replaced. Whether a file is our own is told by looking into it: figures, pages and
//! manual pages carry the program's name in their metadata, a table has the same columns, a case written by a command opens with a
//! line that holds a checksum of the rest (an edited one is no longer ours). HDF5 files are judged by `record`, which can read them.

use same_file::Handle;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Larger files are not looked into: none of ours but records is so long.
const LOOKED_INTO_MAX: u64 = 256 << 20;

/// What a file is, as far as overwriting goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kind {
    /// A case written by a command, unchanged since.
    Case,
    /// A table with these columns.
    Table(String),
    Svg,
    Pdf,
    Png,
    /// A report.
    Page,
    Manual,
}

impl Kind {
    /// The kind of these bytes, if they are an output of ours.
    pub fn of(bytes: &[u8]) -> Option<Kind> {
        let head = &bytes[..bytes.len().min(4096)];
        if head.starts_with(b"<svg ") {
            return holds(bytes, b"<dc:creator>slenderjet ").then_some(Kind::Svg);
        }
        if head.starts_with(b"%PDF-") {
            let creators: [&[u8]; 2] = [b"/Creator(slenderjet ", b"/Creator (slenderjet "];
            return creators.iter().any(|creator| holds(bytes, creator)).then_some(Kind::Pdf);
        }
        if head.starts_with(b"\x89PNG\r\n\x1a\n") {
            return holds(head, b"Software\0slenderjet ").then_some(Kind::Png);
        }
        if head.starts_with(b"<!DOCTYPE html>") {
            return holds(head, b"name=\"generator\" content=\"slenderjet ").then_some(Kind::Page);
        }
        if holds(head, b"\n.TH slenderjet") {
            return Some(Kind::Manual);
        }
        let text = std::str::from_utf8(bytes).ok()?;
        if let Some((mark, rest)) = text.split_once('\n').filter(|(first, _)| first.starts_with(MARK)) {
            return (mark == mark_of(rest)).then_some(Kind::Case);
        }
        let columns = text.lines().next().filter(|line| line.contains(',') && !line.contains(['=', '#', '{', '[']))?;
        Some(Kind::Table(columns.to_owned()))
    }

    fn name(&self) -> &'static str {
        match self {
            Kind::Case => "case written by a command",
            Kind::Table(_) => "table of these columns",
            Kind::Svg => "SVG drawn by this program",
            Kind::Pdf => "PDF drawn by this program",
            Kind::Png => "PNG drawn by this program",
            Kind::Page => "report of this program",
            Kind::Manual => "manual page of this program",
        }
    }
}

fn holds(bytes: &[u8], words: &[u8]) -> bool {
    bytes.windows(words.len()).any(|w| w == words)
}

const MARK: &str = "# written by slenderjet, which replaces it while it is unchanged: ";

/// First line of a case that a command writes: a checksum of what follows (FNV-1a, 64 bits: against edits, not against malice).
fn mark_of(rest: &str) -> String {
    let hash = rest
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3));
    format!("{MARK}{hash:016x}")
}

/// A case's text with the line that marks it as written by a command (in place of an older one).
pub fn marked_case(text: &str) -> String {
    let rest = match text.split_once('\n') {
        Some((first, rest)) if first.starts_with(MARK) => rest,
        _ => text,
    };
    format!("{}\n{rest}", mark_of(rest))
}

/// Why a file was not written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FileError {
    #[error("{}: is a folder; name a file in it", .0.display())]
    Folder(PathBuf),
    #[error("{}: there is no folder `{}`", .0.display(), folder_of(.0).display())]
    NoFolder(PathBuf),
    #[error("{}: is a device, a pipe or a socket and is never replaced", .0.display())]
    Device(PathBuf),
    #[error("{}: is a symbolic link and is not followed; name the file itself, or let --force replace the link", .0.display())]
    Link(PathBuf),
    #[error("{}: exists and will not be replaced ({reason}); move it away, use another name, or say --force", path.display())]
    Exists { path: PathBuf, reason: String },
    #[error("{}: cannot {action}: {cause}", path.display())]
    Io {
        path: PathBuf,
        action: &'static str,
        #[source]
        cause: std::io::Error,
    },
}

impl FileError {
    /// True where another name would do (exit 2), false where the computer could not do it (exit 1).
    pub fn is_input(&self) -> bool {
        !matches!(self, FileError::Io { action, .. } if *action != IN_FOLDER)
    }
}

/// The action of a missing or unwritable folder.
pub const IN_FOLDER: &str = "write in its folder";

/// A step of writing that the operating system refused.
#[derive(Debug)]
pub struct Refused {
    pub action: &'static str,
    pub cause: std::io::Error,
}

/// The folder of a path (`.` for a bare name).
pub fn folder_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.into(),
        _ => PathBuf::from("."),
    }
}

/// What lies at a target: nothing, or a regular file that may have to be looked into.
///
/// # Errors
/// Where it is no place for a file, or a symbolic link and not `force`.
pub fn regular_file_at(target: &Path, force: bool) -> Result<bool, FileError> {
    if !folder_of(target).is_dir() {
        return Err(FileError::NoFolder(target.into()));
    }
    let Ok(about) = fs::symlink_metadata(target) else { return Ok(false) };
    let kind = about.file_type();
    if kind.is_symlink() {
        return if force { Ok(false) } else { Err(FileError::Link(target.into())) };
    }
    match (kind.is_dir(), kind.is_file()) {
        (true, _) => Err(FileError::Folder(target.into())),
        (false, true) => Ok(true),
        (false, false) => Err(FileError::Device(target.into())),
    }
}

/// Whether `kind` may be written to `target`: nothing is there, an empty file, an output of the same kind, or `force`.
///
/// # Errors
/// Where it may not; nothing is touched.
pub fn may_write(target: &Path, kind: Option<&Kind>, force: bool) -> Result<(), FileError> {
    if !regular_file_at(target, force)? || force {
        return Ok(());
    }
    let io = |cause| FileError::Io { path: target.into(), action: "read it", cause };
    let refused = |reason: String| FileError::Exists { path: target.into(), reason };
    let len = fs::metadata(target).map_err(io)?.len();
    if len == 0 {
        return Ok(());
    }
    let there = if len > LOOKED_INTO_MAX { None } else { Kind::of(&fs::read(target).map_err(io)?) };
    match (kind, there) {
        (Some(kind), Some(there)) if *kind == there => Ok(()),
        (Some(kind), _) => Err(refused(format!("it is no earlier {}", kind.name()))),
        (None, _) => Err(refused("it is no earlier output of this command".into())),
    }
}

/// Writes `bytes` to `target`, all or nothing.
///
/// # Errors
/// Where something else lies there and not `force`, or the operating system refuses; what was there stays.
pub fn write(target: &Path, bytes: &[u8], force: bool) -> Result<(), FileError> {
    let same = regular_file_at(target, force)?
        && fs::metadata(target).is_ok_and(|about| about.len() == bytes.len() as u64)
        && fs::read(target).is_ok_and(|there| there == bytes);
    if same {
        return Ok(());
    }
    may_write(target, Kind::of(bytes).as_ref(), force)?;
    place(target, &folder_of(target), bytes).map_err(|Refused { action, cause }| FileError::Io {
        path: target.into(),
        action,
        cause,
    })
}

/// Writes `bytes` to a temporary file in `workshop` (on the same disk), forces it to disk and renames it to `target`.
///
/// # Errors
/// Where the operating system refuses; what was at the target stays.
pub fn place(target: &Path, workshop: &Path, bytes: &[u8]) -> Result<(), Refused> {
    let because = |action| move |cause| Refused { action, cause };
    let stem = target.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let mut temporary = temporary_in(workshop, &stem).map_err(because(IN_FOLDER))?;
    temporary.write_all(bytes).map_err(because("write it"))?;
    keep_permissions(temporary.as_file(), target).map_err(because("set its permissions"))?;
    temporary.as_file().sync_all().map_err(because("force it to disk"))?;
    temporary.persist(target).map_err(|e| Refused { action: "rename it into place", cause: e.error })?;
    sync_folder(&folder_of(target)).map_err(because("force its folder to disk"))
}

/// Forces the folder's entries to disk, so that a rename survives a power cut. File systems and operating systems that know no such
/// thing (Windows, some network disks) are left alone.
///
/// # Errors
/// Where the disk fails.
pub fn sync_folder(folder: &Path) -> std::io::Result<()> {
    if cfg!(not(unix)) {
        return Ok(());
    }
    match File::open(folder)?.sync_all() {
        Err(e) if matches!(e.kind(), ErrorKind::InvalidInput | ErrorKind::Unsupported) => Ok(()),
        done => done,
    }
}

/// A temporary file in `folder` that a kill at worst leaves behind there, with the permissions a plain file would get (the umask).
fn temporary_in(folder: &Path, stem: &str) -> std::io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    let prefix = format!(".{stem}.");
    builder.prefix(&prefix).suffix(".tmp");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
        builder.tempfile_in(folder)
    }
    #[cfg(not(unix))]
    builder.tempfile_in(folder)
}

/// A file that takes the place of another keeps the other's permissions; what a link points at has no say.
fn keep_permissions(file: &File, target: &Path) -> std::io::Result<()> {
    match fs::symlink_metadata(target) {
        Ok(old) if old.is_file() => file.set_permissions(old.permissions()),
        _ => Ok(()),
    }
}

/// Opens a file of ours beside an output for reading and writing, made if need be; a symbolic link is refused.
///
/// # Errors
/// Where a link or anything but a regular file has its name, or the operating system refuses.
pub fn open_beside(path: &Path) -> std::io::Result<File> {
    let is_link = || fs::symlink_metadata(path).is_ok_and(|about| about.file_type().is_symlink());
    let refused =
        || Err(std::io::Error::new(ErrorKind::AlreadyExists, "its name belongs to a symbolic link or no regular file"));
    if is_link() {
        return refused();
    }
    let file = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(path)?;
    // Looked at again after opening: what was opened must be what has the name.
    if file.metadata()?.is_file() && has_name(&file, path) { Ok(file) } else { refused() }
}

/// Whether the open file is still the one of that name, and no link to it: another process may have removed it meanwhile.
pub fn has_name(open: &File, path: &Path) -> bool {
    let same = || Ok::<_, std::io::Error>(Handle::from_file(open.try_clone()?)? == Handle::from_path(path)?);
    fs::symlink_metadata(path).is_ok_and(|named| named.is_file()) && same().unwrap_or(false)
}

/// Locks a file against other processes; `false` where another holds it. A file system without locks (some of clusters) gives
/// `true`: nobody else can hold one there either.
pub fn lock(file: &File) -> bool {
    !matches!(file.try_lock(), Err(TryLockError::WouldBlock))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder() -> tempfile::TempDir {
        tempfile::tempdir().expect("a folder")
    }

    const TABLE: &[u8] = b"time_s,radius_m\n0,1e-5\n";

    #[test]
    fn only_an_earlier_output_of_the_same_kind_is_replaced() {
        let folder = folder();
        let path = folder.path().join("out");
        for (there, new, allowed) in [
            (&b""[..], TABLE, true),
            (TABLE, TABLE, true),
            (b"time_s,radius_m\n5,5\n", TABLE, true),
            (b"drop,diameter_um\n1,50\n", TABLE, false),
            (b"title = \"mine\"\n", TABLE, false),
            (b"\x89HDF\r\n\x1a\n....", TABLE, false),
            (
                b"<svg xmlns=\"...\"><dc:creator>slenderjet 1</dc:creator>",
                b"<svg x=\"\"><dc:creator>slenderjet 2<",
                true,
            ),
            (b"<svg xmlns=\"...\"><dc:creator>somebody</dc:creator>", b"<svg x=\"\"><dc:creator>slenderjet 2<", false),
            (TABLE, b"<svg x=\"\"><dc:creator>slenderjet 2<", false),
            (b"%PDF-1.7 /Creator (other)", b"%PDF-1.7 /Creator (slenderjet 1)", false),
            (b"%PDF-1.7 /Creator (slenderjet 0)", b"%PDF-1.7 /Creator(slenderjet 1)", true),
        ] {
            fs::write(&path, there).expect("written");
            let done = write(&path, new, false);
            assert_eq!(
                done.is_ok(),
                allowed,
                "{:?} over {:?}",
                String::from_utf8_lossy(new),
                String::from_utf8_lossy(there)
            );
            assert_eq!(fs::read(&path).expect("there"), if allowed { new } else { there });
            if let Err(error) = done {
                assert!(error.is_input() && error.to_string().contains("--force"), "{error}");
                write(&path, new, true).expect("forced");
                assert_eq!(fs::read(&path).expect("there"), new);
            }
        }
        assert_eq!(fs::read_dir(folder.path()).expect("a folder").count(), 1, "no litter");
    }

    #[test]
    fn a_written_case_is_ours_until_somebody_edits_it() {
        let folder = folder();
        let path = folder.path().join("aimed.toml");
        let first = marked_case("title = \"a\"\n");
        write(&path, first.as_bytes(), false).expect("nothing there");
        let second = marked_case(&first.replace("\"a\"", "\"b\""));
        assert_eq!(second.lines().count(), 2, "one mark");
        write(&path, second.as_bytes(), false).expect("ours");
        fs::write(&path, second.replace("\"b\"", "\"b, by hand\"")).expect("edited");
        let error = write(&path, first.as_bytes(), false).expect_err("edited by hand");
        assert!(matches!(error, FileError::Exists { .. }));
    }

    #[test]
    #[cfg(unix)]
    fn links_and_devices_are_left_alone() {
        let folder = folder();
        let (link, aim) = (folder.path().join("link"), folder.path().join("aim"));
        std::os::unix::fs::symlink(&aim, &link).expect("a link");
        assert!(matches!(write(&link, TABLE, false), Err(FileError::Link(_))));
        fs::write(&aim, TABLE).expect("written");
        assert!(matches!(write(&link, TABLE, false), Err(FileError::Link(_))));
        write(&link, b"a,b\n", true).expect("forced");
        assert_eq!(fs::read(&aim).expect("there"), TABLE, "the link was replaced, not what it points at");
        assert!(matches!(write(Path::new("/dev/null"), TABLE, true), Err(FileError::Device(_))));
        assert!(matches!(write(folder.path(), TABLE, true), Err(FileError::Folder(_))));
        assert!(matches!(write(&folder.path().join("no/x"), TABLE, true), Err(FileError::NoFolder(_))));
    }

    #[test]
    fn a_file_that_was_replaced_has_its_name_no_more() {
        let folder = folder();
        let (path, other) = (folder.path().join("map.h5.rows"), folder.path().join("other"));
        let open = open_beside(&path).expect("made");
        assert!(has_name(&open, &path) && lock(&open) && has_name(&open, &path));
        fs::write(&other, "same length").expect("written");
        assert!(!has_name(&open, &other));
        drop(open);
        let open = open_beside(&path).expect("there");
        fs::rename(&other, &path).expect("renamed");
        assert!(!has_name(&open, &path));
    }

    #[test]
    #[cfg(unix)]
    fn a_file_beside_is_not_opened_through_a_link() {
        let folder = folder();
        let (link, aim) = (folder.path().join("map.h5.rows"), folder.path().join("thesis.txt"));
        fs::write(&aim, "mine").expect("written");
        std::os::unix::fs::symlink(&aim, &link).expect("a link");
        assert!(open_beside(&link).is_err());
        assert_eq!(fs::read_to_string(&aim).expect("there"), "mine");
        assert!(open_beside(&folder.path().join("plain")).is_ok());
    }
}
