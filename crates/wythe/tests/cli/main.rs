//! The command line as its users call it: the forms other programs rely on, and what bad input
//! gets.

mod archiving;
mod bad_input;
mod charting;
mod contract;
mod demonstration;
mod exporting;
mod listening;
mod planning;
mod run;
