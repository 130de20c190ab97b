//! Tables as Parquet: a time is INT64 with TIMESTAMP(MILLIS, UTC), text is a STRING, what need not be there is OPTIONAL, pages
//! are compressed by snappy. The file's own metadata say tool, room, table and what each column holds, with its unit.

mod read;
mod write;

pub(super) use read::source;
pub(super) use write::Writer;
