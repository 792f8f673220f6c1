//! A cursor over bytes that never reads past their end.

/// Byte order of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    Little,
    Big,
}

/// The bytes ended before the value did; `at` is where the value starts, counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Short {
    pub at: usize,
}

/// Bytes and how many of them are read.
#[derive(Debug, Clone)]
pub struct Bytes<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Bytes<'a> {
    /// At the start of these bytes.
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, at: 0 }
    }

    /// Where the next value starts.
    pub fn at(&self) -> usize {
        self.at
    }

    /// How many bytes are left.
    pub fn left(&self) -> usize {
        self.bytes.len() - self.at
    }

    /// The next `length` bytes.
    ///
    /// # Errors
    /// Fewer are left; nothing is consumed then.
    pub fn take(&mut self, length: usize) -> Result<&'a [u8], Short> {
        let end = self.at.checked_add(length).ok_or(Short { at: self.at })?;
        let taken = self.bytes.get(self.at..end).ok_or(Short { at: self.at })?;
        self.at = end;
        Ok(taken)
    }

    fn array<const N: usize>(&mut self) -> Result<[u8; N], Short> {
        let at = self.at;
        self.take(N)?.try_into().map_err(|_| Short { at })
    }

    /// One byte.
    ///
    /// # Errors
    /// None is left.
    pub fn byte(&mut self) -> Result<u8, Short> {
        self.array::<1>().map(|[byte]| byte)
    }

    /// An unsigned number of four bytes.
    ///
    /// # Errors
    /// Fewer are left.
    pub fn u32(&mut self, order: Order) -> Result<u32, Short> {
        let bytes = self.array()?;
        Ok(match order {
            Order::Little => u32::from_le_bytes(bytes),
            Order::Big => u32::from_be_bytes(bytes),
        })
    }

    /// A signed number of four bytes.
    ///
    /// # Errors
    /// Fewer are left.
    pub fn i32(&mut self, order: Order) -> Result<i32, Short> {
        self.u32(order)
            .map(|number| i32::from_ne_bytes(number.to_ne_bytes()))
    }

    /// A floating-point number of eight bytes.
    ///
    /// # Errors
    /// Fewer are left.
    pub fn f64(&mut self, order: Order) -> Result<f64, Short> {
        let bytes = self.array()?;
        Ok(match order {
            Order::Little => f64::from_le_bytes(bytes),
            Order::Big => f64::from_be_bytes(bytes),
        })
    }
}
