//! Reading well-known binary: both byte orders, the ISO and the flag way of saying Z and M.

use crate::codec::bytes::{Bytes, Order, Short};
use std::fmt;

/// A collection may hold collections; deeper than this is no map any more.
const DEEPEST: u32 = 16;

/// The parts of a geometry, all of one kind. Rings and lines are as stored.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// No point at all.
    Empty,
    /// Points, `[x, y]`.
    Points(Vec<[f64; 2]>),
    /// Lines of points.
    Lines(Vec<Vec<[f64; 2]>>),
    /// Polygons of rings, the exterior first.
    Polygons(Vec<Vec<Vec<[f64; 2]>>>),
}

/// A geometry and what was left out of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Decoded {
    pub shape: Shape,
    /// It had heights, which are dropped.
    pub z: bool,
    /// It had measures, which are dropped.
    pub m: bool,
}

/// Why bytes are not a geometry this reads. Displays as a sentence without its full stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Error {
    /// It ends at this byte, in the middle of a value.
    Truncated { at: usize },
    /// A byte order mark other than 0 and 1.
    ByteOrder(u8),
    /// A type that is not read, such as a surface of triangles.
    Unsupported(&'static str),
    /// A border or line with an arc in it.
    Arc,
    /// A compound curve whose pieces do not follow each other.
    Apart,
    /// A type code that the standard does not have.
    UnknownType(u32),
    /// A part of another type than its multi-geometry holds.
    WrongPart(u32),
    /// A collection that holds more than one of points, lines and polygons.
    Mixed,
    /// Collections within collections, too deep.
    TooDeep,
    /// Bytes after the end of the geometry.
    Trailing(usize),
}

impl From<Short> for Error {
    fn from(short: Short) -> Self {
        Self::Truncated { at: short.at }
    }
}

impl fmt::Display for Error {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Truncated { at } => write!(out, "the geometry ends early, at its byte {at}"),
            Self::ByteOrder(mark) => write!(out, "the geometry has the byte order mark {mark}"),
            Self::Unsupported(name) => write!(out, "the geometry is a {name}"),
            Self::Arc => write!(out, "the geometry has an arc (CircularString)"),
            Self::Apart => write!(
                out,
                "the pieces of a CompoundCurve of the geometry do not meet"
            ),
            Self::UnknownType(code) => write!(out, "the geometry has the unknown type {code}"),
            Self::WrongPart(code) => {
                write!(
                    out,
                    "a part of the geometry has type {code}, which its whole cannot hold"
                )
            }
            Self::Mixed => {
                write!(
                    out,
                    "the geometry is a collection of more than one kind of shape"
                )
            }
            Self::TooDeep => write!(out, "collections are nested deeper than {DEEPEST}"),
            Self::Trailing(bytes) => write!(out, "{bytes} bytes follow the end of the geometry"),
        }
    }
}

/// Decodes one geometry that fills `bytes`.
///
/// Multi-geometries and collections are flattened. Curves and surfaces are read where all their pieces are
/// straight. A point of two NaN is an empty point, as the
/// GeoPackage standard has it. Other values are not judged.
///
/// Source: OGC 06-103r4, section 8.2; ISO type codes (1000 for Z, 2000 for M) and the flag bits
/// (0x8000_0000 Z, 0x4000_0000 M, 0x2000_0000 SRID) that spatial databases use.
///
/// # Errors
/// [`Error`] says what is wrong with the bytes, or which type is not read.
pub fn read(bytes: &[u8]) -> Result<Decoded, Error> {
    let mut reader = Reader {
        bytes: Bytes::new(bytes),
        parts: Parts::default(),
        z: false,
        m: false,
    };
    reader.geometry(&[], 0)?;
    match reader.bytes.left() {
        0 => Ok(Decoded {
            shape: reader.parts.shape()?,
            z: reader.z,
            m: reader.m,
        }),
        left => Err(Error::Trailing(left)),
    }
}

type Line = Vec<[f64; 2]>;

/// Types of which a compound curve is made; what a ring or a member of a multi-curve may be; what a member of a
/// multi-surface may be.
const PIECES: [u32; 2] = [2, 8];
const CURVES: [u32; 3] = [2, 8, 9];
const SURFACES: [u32; 2] = [3, 10];

/// What has been read so far, by kind.
#[derive(Default)]
struct Parts {
    points: Vec<[f64; 2]>,
    lines: Vec<Vec<[f64; 2]>>,
    polygons: Vec<Vec<Vec<[f64; 2]>>>,
}

impl Parts {
    fn shape(self) -> Result<Shape, Error> {
        match (
            self.points.is_empty(),
            self.lines.is_empty(),
            self.polygons.is_empty(),
        ) {
            (true, true, true) => Ok(Shape::Empty),
            (false, true, true) => Ok(Shape::Points(self.points)),
            (true, false, true) => Ok(Shape::Lines(self.lines)),
            (true, true, false) => Ok(Shape::Polygons(self.polygons)),
            _ => Err(Error::Mixed),
        }
    }
}

/// Byte order and number of values per point of one geometry.
#[derive(Clone, Copy)]
struct Form {
    order: Order,
    values: usize,
}

struct Reader<'a> {
    bytes: Bytes<'a>,
    parts: Parts,
    z: bool,
    m: bool,
}

impl Reader<'_> {
    /// Reads one geometry; only these types are allowed here, or any where none is named.
    fn geometry(&mut self, part_of: &[u32], depth: u32) -> Result<(), Error> {
        if depth > DEEPEST {
            return Err(Error::TooDeep);
        }
        let order = match self.bytes.byte()? {
            0 => Order::Big,
            1 => Order::Little,
            other => return Err(Error::ByteOrder(other)),
        };
        let code = self.bytes.u32(order)?;
        if code & 0x2000_0000 != 0 {
            self.bytes.u32(order)?;
        }
        let plain = code & 0x0FFF_FFFF;
        let (kind, dimension) = (plain % 1000, plain / 1000);
        if dimension > 3 {
            return Err(Error::UnknownType(code));
        }
        let z = code & 0x8000_0000 != 0 || dimension & 1 != 0;
        let m = code & 0x4000_0000 != 0 || dimension & 2 != 0;
        self.z |= z;
        self.m |= m;
        if !part_of.is_empty() && !part_of.contains(&kind) {
            return Err(Error::WrongPart(kind));
        }
        let form = Form {
            order,
            values: 2 + usize::from(z) + usize::from(m),
        };
        match kind {
            8 => Err(Error::Arc),
            9 => {
                let line = self.compound(order, depth)?;
                self.parts.lines.push(line);
                Ok(())
            }
            10 => self.curve_polygon(order, depth),
            11 => self.members(order, &CURVES, depth),
            12 => self.members(order, &SURFACES, depth),
            1 => self.point(form),
            2 => {
                let line = self.points(form)?;
                self.parts.lines.push(line);
                Ok(())
            }
            3 => self.polygon(form),
            4..=6 => self.members(order, &[kind - 3], depth),
            7 => self.members(order, &[], depth),
            _ => Err(unread(kind, code)),
        }
    }

    fn members(&mut self, order: Order, kinds: &[u32], depth: u32) -> Result<(), Error> {
        // Not reserved ahead: a corrupt count then ends at the end of the bytes.
        for _ in 0..self.bytes.u32(order)? {
            self.geometry(kinds, depth + 1)?;
        }
        Ok(())
    }

    /// The lines that the members of a curve are, taken out of what has been read.
    fn curves(&mut self, order: Order, kinds: &[u32], depth: u32) -> Result<Vec<Line>, Error> {
        let before = self.parts.lines.len();
        self.members(order, kinds, depth)?;
        Ok(self.parts.lines.split_off(before))
    }

    /// Straight pieces, each of which starts where the one before it ends, as one line.
    fn compound(&mut self, order: Order, depth: u32) -> Result<Line, Error> {
        let mut whole = Line::new();
        for piece in self.curves(order, &PIECES, depth)? {
            match (whole.last(), piece.first()) {
                (Some(end), Some(start)) if end != start => return Err(Error::Apart),
                (Some(_), Some(_)) => whole.extend(piece.iter().skip(1)),
                _ => whole.extend(piece),
            }
        }
        Ok(whole)
    }

    fn curve_polygon(&mut self, order: Order, depth: u32) -> Result<(), Error> {
        let rings = self.curves(order, &CURVES, depth)?;
        self.parts.polygons.push(rings);
        Ok(())
    }

    fn point(&mut self, form: Form) -> Result<(), Error> {
        let point = self.position(form)?;
        if !(point[0].is_nan() && point[1].is_nan()) {
            self.parts.points.push(point);
        }
        Ok(())
    }

    fn polygon(&mut self, form: Form) -> Result<(), Error> {
        let count = self.bytes.u32(form.order)? as usize;
        // Every ring takes four bytes or more, so a corrupt count cannot reserve more than exists.
        let mut rings = Vec::with_capacity(count.min(self.bytes.left() / 4));
        for _ in 0..count {
            rings.push(self.points(form)?);
        }
        self.parts.polygons.push(rings);
        Ok(())
    }

    fn points(&mut self, form: Form) -> Result<Vec<[f64; 2]>, Error> {
        let count = self.bytes.u32(form.order)? as usize;
        let mut points = Vec::with_capacity(count.min(self.bytes.left() / (8 * form.values)));
        for _ in 0..count {
            points.push(self.position(form)?);
        }
        Ok(points)
    }

    fn position(&mut self, form: Form) -> Result<[f64; 2], Error> {
        let point = [self.bytes.f64(form.order)?, self.bytes.f64(form.order)?];
        self.bytes.take(8 * (form.values - 2))?;
        Ok(point)
    }
}

/// The types that the standard has and this does not read.
fn unread(kind: u32, code: u32) -> Error {
    match kind {
        0 => Error::Unsupported("geometry without a type"),
        13 => Error::Unsupported("Curve"),
        14 => Error::Unsupported("Surface"),
        15 => Error::Unsupported("PolyhedralSurface"),
        16 => Error::Unsupported("TIN"),
        17 => Error::Unsupported("Triangle"),
        _ => Error::UnknownType(code),
    }
}
