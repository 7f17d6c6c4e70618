//! A report as a PDF.
