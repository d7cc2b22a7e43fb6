"""From scan files to curvature: reading, frames, registration, the fit."""
