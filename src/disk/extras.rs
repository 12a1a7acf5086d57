//! Extended attributes: what people and programs note beside a file's bytes (xattr(7)).
//!
//! Takes two open files; gives the second what the first has.

use rustix::fs::{XattrFlags, fgetxattr, flistxattr, fsetxattr};
use rustix::io::Errno;
use std::ffi::CStr;
use std::fs::File;

/// The most bytes of one value, and of all names, that the system takes (limits(7) of Linux: XATTR_SIZE_MAX).
const MOST: usize = 1 << 16;

/// Whether a file has any.
pub(super) fn any(file: &File) -> bool {
    names(file).is_ok_and(|names| !names.is_empty())
}

/// Gives a file all attributes of another. Those of a person, `user.`, must be taken; those of the system, such as access
/// lists and labels, are given where this account and the other drive allow it.
pub(super) fn copy(from: &File, to: &File) -> rustix::io::Result<()> {
    for name in names(from)?.split_inclusive(|byte| *byte == 0) {
        let Ok(name) = CStr::from_bytes_with_nul(name) else { continue };
        let mut value = vec![0; MOST];
        let copied = fgetxattr(from, name, &mut value[..])
            .and_then(|length| fsetxattr(to, name, &value[..length], XattrFlags::empty()));
        match copied {
            Err(errno) if name.to_bytes().starts_with(b"user.") => return Err(errno),
            _ => {}
        }
    }
    Ok(())
}

/// Every name with a zero byte behind it; none on a drive without attributes.
fn names(file: &File) -> rustix::io::Result<Vec<u8>> {
    let mut names = vec![0; MOST];
    match flistxattr(file, &mut names[..]) {
        Ok(length) => {
            names.truncate(length);
            Ok(names)
        }
        Err(Errno::NOTSUP) => Ok(Vec::new()),
        Err(errno) => Err(errno),
    }
}
