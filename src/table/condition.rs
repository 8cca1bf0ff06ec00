//! Conditions on rows: `body < 95 K and not (torque > 2 N·m)`.
