//! Turning one rule off, for the tests that show that each rule is needed.

/// Which rule is turned off: none, in every program that people use.
#[derive(Clone, Copy, Debug, Default)]
pub struct Switch {
    #[cfg(any(test, feature = "test-switch"))]
    off: Option<&'static str>,
}

impl Switch {
    /// Turns one finding or reason off by its code.
    #[cfg(any(test, feature = "test-switch"))]
    pub fn off(code: &'static str) -> Switch {
        Switch { off: Some(code) }
    }

    /// Whether this code is turned off.
    #[cfg(any(test, feature = "test-switch"))]
    pub fn is_off(self, code: &str) -> bool {
        self.off == Some(code)
    }

    /// Whether this code is turned off: never.
    #[cfg(not(any(test, feature = "test-switch")))]
    pub fn is_off(self, _code: &str) -> bool {
        false
    }
}
