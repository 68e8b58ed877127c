//! Agreement with published tables and worked examples, row by row from `tests/data`.
//!
//! Every row of every file there is checked; a row no test knows makes its test fail.

mod astm;
mod audibility;
mod dose;
mod field;
mod iso12999_1;
mod iso717_1;
mod iso717_2;
mod room_noise;
mod rows;
mod speech;
