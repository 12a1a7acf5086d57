//! Frames on a socket pair: a length, JSON, and in one direction open descriptors beside them.
//!
//! Knows nothing of what the JSON means.

use rustix::io::{Errno, retry_on_intr};
use rustix::net::{
    RecvAncillaryBuffer, RecvAncillaryMessage, RecvFlags, SendAncillaryBuffer, SendAncillaryMessage, SendFlags,
    recvmsg, sendmsg,
};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::io::{self, IoSlice, IoSliceMut, Read, Write};
use std::mem::MaybeUninit;
use std::os::fd::{AsFd, BorrowedFd, OwnedFd};
use std::os::unix::net::UnixStream;

/// Most bytes of one frame: a ticket with its boxes is a few kilobytes.
const MOST: u32 = 8 << 20;

/// Sends a message without a descriptor.
///
/// # Errors
/// When the other side is gone.
pub fn send<T: Serialize>(socket: &mut UnixStream, message: &T) -> io::Result<()> {
    let body = serde_json::to_vec(message)?;
    socket.write_all(&(body.len() as u32).to_le_bytes())?;
    socket.write_all(&body)
}

/// Most descriptors beside one frame: the tiles of a contact sheet. Linux carries up to 253 (unix(7)).
pub const MOST_DESCRIPTORS: usize = 24;

/// Sends a message with descriptors riding on its length, at least one and at most [`MOST_DESCRIPTORS`].
///
/// # Errors
/// When the other side is gone, or there are too many.
pub fn send_with<T: Serialize>(socket: &mut UnixStream, message: &T, descriptors: &[BorrowedFd<'_>]) -> io::Result<()> {
    let body = serde_json::to_vec(message)?;
    let length = (body.len() as u32).to_le_bytes();
    let mut space = [MaybeUninit::uninit(); rustix::cmsg_space!(ScmRights(MOST_DESCRIPTORS))];
    let mut ancillary = SendAncillaryBuffer::new(&mut space);
    // The space is rounded up to whole words, so it may hold one more than it was asked for.
    if descriptors.len() > MOST_DESCRIPTORS || !ancillary.push(SendAncillaryMessage::ScmRights(descriptors)) {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "more files than a frame of the worker carries"));
    }
    let sent =
        retry_on_intr(|| sendmsg(socket.as_fd(), &[IoSlice::new(&length)], &mut ancillary, SendFlags::NOSIGNAL))?;
    // Four bytes into an empty socket go at once; anything else is a broken pair.
    if sent != length.len() {
        return Err(io::Error::new(io::ErrorKind::WriteZero, "the worker's socket took half a length"));
    }
    socket.write_all(&body)
}

/// Receives a message without a descriptor; `None` when the other side has closed.
///
/// # Errors
/// When the frame is torn, too long or not what was expected, or when the socket's time runs out.
pub fn receive<T: DeserializeOwned>(socket: &mut UnixStream) -> io::Result<Option<T>> {
    let mut length = [0; 4];
    let got = loop {
        // A wait with a time limit is interrupted by every stop of the process, a sleeping machine's too (signal(7)).
        match socket.read(&mut length) {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            ended => break ended?,
        }
    };
    if got == 0 {
        return Ok(None);
    }
    socket.read_exact(&mut length[got..])?;
    body(socket, length).map(Some)
}

/// Receives a message and the descriptors that ride on it; `None` when the other side has closed.
///
/// # Errors
/// As [`receive`], and when no descriptor came along.
pub fn receive_with<T: DeserializeOwned>(socket: &mut UnixStream) -> io::Result<Option<(T, Vec<OwnedFd>)>> {
    let mut length = [0; 4];
    let mut space = [MaybeUninit::uninit(); rustix::cmsg_space!(ScmRights(MOST_DESCRIPTORS))];
    let mut ancillary = RecvAncillaryBuffer::new(&mut space);
    let got = loop {
        match recvmsg(socket.as_fd(), &mut [IoSliceMut::new(&mut length)], &mut ancillary, RecvFlags::CMSG_CLOEXEC) {
            Err(Errno::INTR) => {}
            ended => break ended?.bytes,
        }
    };
    if got == 0 {
        return Ok(None);
    }
    let mut files = Vec::new();
    for message in ancillary.drain() {
        if let RecvAncillaryMessage::ScmRights(descriptors) = message {
            files.extend(descriptors);
        }
    }
    if files.is_empty() {
        return Err(io::Error::new(io::ErrorKind::InvalidData, "a job came without its file"));
    }
    socket.read_exact(&mut length[got..])?;
    Ok(Some((body(socket, length)?, files)))
}

fn body<T: DeserializeOwned>(socket: &mut UnixStream, length: [u8; 4]) -> io::Result<T> {
    let length = u32::from_le_bytes(length);
    if length > MOST {
        return Err(io::Error::new(io::ErrorKind::InvalidData, "a frame of the worker is too long"));
    }
    let mut bytes = vec![0; length as usize];
    socket.read_exact(&mut bytes)?;
    Ok(serde_json::from_slice(&bytes)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs::File;
    use std::io::Seek;

    #[test]
    fn a_message_and_its_file_arrive_together() {
        let (mut one, mut other) = UnixStream::pair().unwrap();
        let mut file = tempfile::tempfile().unwrap();
        file.write_all(b"kelp").unwrap();
        file.rewind().unwrap();
        let mut second = tempfile::tempfile().unwrap();
        second.write_all(b"dulse").unwrap();
        second.rewind().unwrap();
        send_with(&mut one, &"look at this".to_string(), &[file.as_fd(), second.as_fd()]).unwrap();
        let (message, files): (String, Vec<OwnedFd>) = receive_with(&mut other).unwrap().unwrap();
        let texts: Vec<String> = files.into_iter().map(|file| io::read_to_string(File::from(file)).unwrap()).collect();
        assert_eq!((message.as_str(), texts), ("look at this", vec!["kelp".to_string(), "dulse".to_string()]));
        let many = [file.as_fd(); MOST_DESCRIPTORS + 1];
        assert!(send_with(&mut one, &1u32, &many).is_err());
        send(&mut other, &7u32).unwrap();
        assert_eq!(receive::<u32>(&mut one).unwrap(), Some(7));
        drop(other);
        assert_eq!(receive::<u32>(&mut one).unwrap(), None);
    }

    #[test]
    fn torn_and_foreign_frames_are_errors() {
        let (mut one, mut other) = UnixStream::pair().unwrap();
        one.write_all(&[9, 0, 0, 0, b'{']).unwrap();
        drop(one);
        assert!(receive::<u32>(&mut other).is_err());
        let (mut one, mut other) = UnixStream::pair().unwrap();
        one.write_all(&u32::MAX.to_le_bytes()).unwrap();
        assert!(receive::<u32>(&mut other).is_err());
        let (mut one, mut other) = UnixStream::pair().unwrap();
        send(&mut one, &1u32).unwrap();
        assert!(receive_with::<u32>(&mut other).is_err());
    }
}
