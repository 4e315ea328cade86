//! Small files that hold something of a secret: written anew as a whole, readable by their owner only.

use std::io::Write;
use std::path::Path;

/// Writes beside its place, flushes, then puts it there: after a power cut there is the old file or the new one.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let beside = path.with_extension("part");
    // One that was left over may be readable by others.
    match std::fs::remove_file(&beside) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let mut options = std::fs::OpenOptions::new();
    options.create_new(true).write(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(&beside)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    std::fs::rename(&beside, path)?;
    // The name itself is flushed where the system lets one.
    if let Some(folder) = path.parent().and_then(|folder| std::fs::File::open(folder).ok()) {
        let _ = folder.sync_all();
    }
    Ok(())
}

/// Takes the right to read away from others, where a copy has given it to them.
pub(crate) fn close(path: &Path) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        if let Ok(about) = std::fs::metadata(path)
            && about.permissions().mode() & 0o077 != 0
        {
            let _ = std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o600));
        }
    }
    #[cfg(not(unix))]
    let _ = path;
}
