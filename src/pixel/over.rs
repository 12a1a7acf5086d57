//! Source-over compositing on straight and premultiplied pixels as two types that cannot be mixed.
