//! The pictures of a packet, read: drawings and photographs.

use foldhash::HashMap;

use krilla::image::Image;
use usvg::{Options, Tree};

/// A picture.
pub(super) enum Picture {
    /// A drawing.
    Drawing(Box<Tree>),
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
        let mut options = Options { font_family: "Libertinus Serif".into(), ..Options::default() };
        let database = options.fontdb_mut();
        typst_assets::fonts().for_each(|font| database.load_font_data(font.to_vec()));
        database.set_sans_serif_family("Libertinus Serif");
        database.set_serif_family("Libertinus Serif");
        let mut pictures = Pictures { names: HashMap::default(), all: Vec::new() };
        for (name, bytes) in files {
            let picture = match name.rsplit_once('.') {
                Some((_, "svg")) => Tree::from_data(&bytes, &options).ok().map(|tree| Picture::Drawing(Box::new(tree))),
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
            Picture::Drawing(tree) => (tree.size().width() * UNIT, tree.size().height() * UNIT),
            Picture::Photo(image) => {
                let (width, height) = image.size();
                let scale = (PHOTO.0 / width as f32).min(PHOTO.1 / height as f32).min(1.0);
                (width as f32 * scale, height as f32 * scale)
            }
        };
        (width > 0.0 && height > 0.0).then_some((width, height))
    }
}
