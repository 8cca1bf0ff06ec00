//! The pictures of a packet, read: drawings and photographs.

use foldhash::HashMap;

use krilla::image::Image;

use super::sketch::{self, Sketch};

/// A picture.
pub(super) enum Picture {
    /// A drawing.
    Drawing(Box<Sketch>),
    /// A photograph.
    Photo(Image),
}

/// Pictures, by the names of their files.
pub(super) struct Pictures {
    names: HashMap<String, usize>,
    all: Vec<Picture>,
}

/// A unit of a drawing is this many points: its letters come out at 8 pt, and one that is as wide as a page fits.
const UNIT: f32 = 0.65;
/// A photograph is no wider and no higher than this, in points.
const PHOTO: (f32, f32) = (300.0, 230.0);

impl Pictures {
    /// Reads them; what cannot be read is left out, as on the page.
    pub(super) fn read(files: Vec<(String, Vec<u8>)>) -> Pictures {
        let mut pictures = Pictures { names: HashMap::default(), all: Vec::new() };
        for (name, bytes) in files {
            let picture = match name.rsplit_once('.') {
                Some((_, "svg")) => {
                    let svg = std::str::from_utf8(&bytes).ok().and_then(sketch::read);
                    svg.map(|sketch| Picture::Drawing(Box::new(sketch)))
                }
                Some((_, "png")) => Image::from_png(bytes.into(), false).ok().map(Picture::Photo),
                _ => Image::from_jpeg(bytes.into(), false).ok().map(Picture::Photo),
            };
            if let Some(picture) = picture {
                pictures.names.insert(name, pictures.all.len());
                pictures.all.push(picture);
            }
        }
        pictures
    }

    /// What drawings hold that is not known, and so not drawn.
    #[cfg(test)]
    pub(super) fn unknown(&self) -> Vec<&String> {
        let drawings = self.all.iter().filter_map(|picture| match picture {
            Picture::Drawing(sketch) => Some(&sketch.unknown),
            Picture::Photo(_) => None,
        });
        drawings.flatten().collect()
    }

    /// The place of a picture, by the name of its file.
    pub(super) fn find(&self, name: &str) -> Option<usize> {
        self.names.get(name).copied()
    }

    /// The picture at a place.
    pub(super) fn get(&self, at: usize) -> Option<&Picture> {
        self.all.get(at)
    }

    /// How wide and how high it wants to be, in points.
    pub(super) fn size(&self, at: usize) -> Option<(f32, f32)> {
        let (width, height) = match self.all.get(at)? {
            Picture::Drawing(sketch) => (sketch.size.0 * UNIT, sketch.size.1 * UNIT),
            Picture::Photo(image) => {
                let (width, height) = image.size();
                let scale = (PHOTO.0 / width as f32).min(PHOTO.1 / height as f32).min(1.0);
                (width as f32 * scale, height as f32 * scale)
            }
        };
        (width > 0.0 && height > 0.0).then_some((width, height))
    }
}
