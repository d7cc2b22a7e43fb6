"""The version, in one place for code that must not read package metadata at start."""

VERSION = "0.1.0"
