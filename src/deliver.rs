//! Delivering: publishes and withdraws a tile's outputs, one standing per path, never over a file Burler did not write.
