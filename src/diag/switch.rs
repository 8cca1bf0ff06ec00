//! Turning one rule off, for the tests that show that each rule is needed.

/// Which rule is turned off: none, but in the unit tests.
#[derive(Clone, Copy, Debug, Default)]
pub struct Switch {
    #[cfg(test)]
    off: Option<&'static str>,
}

impl Switch {
    /// Turns one finding or reason off by its code.
    #[cfg(test)]
    pub fn off(code: &'static str) -> Switch {
        Switch { off: Some(code) }
    }

    /// Whether this code is turned off.
    #[cfg(test)]
    pub fn is_off(self, code: &str) -> bool {
        self.off == Some(code)
    }

    /// Whether this code is turned off: never.
    #[cfg(not(test))]
    pub fn is_off(self, _code: &str) -> bool {
        false
    }
}
