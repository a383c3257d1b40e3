//! The tables of an index as Parquet files.

use super::error::{FleetError, outside_records};
use super::index::Index;
use parquet::basic::Compression;
use parquet::data_type::{ByteArray, ByteArrayType, Int64Type};
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::parser::parse_message_type;
use rusqlite::Statement;
use rusqlite::types::ValueRef;
use std::fs::{self, File};
use std::path::Path;
use std::sync::Arc;

/// Rows of a row group.
const GROUP: usize = 1 << 17;

/// File, query, and its columns; a number unless the name ends in `:text`.
const TABLES: [(&str, &str, &[&str]); 3] = [
    (
        "records.parquet",
        "SELECT folder, problem, load, kind, slings, inspector, rigger, started, started_ms, day, week, walked_ms, \
         state, checks, deficient, found, open, put_right, reinspected, asked, asked_again, refused, \
         doubted, corrected, held, amendments, sealed, clips, sound_removed, copy_of FROM records",
        &[
            "folder:text",
            "problem:text",
            "load:text",
            "kind:text",
            "slings:text",
            "inspector:text",
            "rigger:text",
            "started:text",
            "started_ms",
            "day:text",
            "week:text",
            "walked_ms",
            "state:text",
            "checks",
            "deficient",
            "found",
            "open",
            "put_right",
            "reinspected",
            "asked",
            "asked_again",
            "refused",
            "doubted",
            "corrected",
            "held",
            "amendments",
            "sealed",
            "clips",
            "sound_removed",
            "copy_of:text",
        ],
    ),
    (
        "checks.parquet",
        "SELECT folder, \"check\", station, name, status, found_deficient, deficiency, asked, \
         asked_again, refused, doubted, corrected, reinspected FROM checked",
        &[
            "folder:text",
            "check:text",
            "station:text",
            "name:text",
            "status:text",
            "found_deficient",
            "deficiency:text",
            "asked",
            "asked_again",
            "refused",
            "doubted",
            "corrected",
            "reinspected",
        ],
    ),
    (
        "noise.parquet",
        "SELECT folder, from_db, heard, not_taken FROM noise JOIN records ON records.id = record \
         WHERE copy_of IS NULL",
        &["folder:text", "from_db", "heard", "not_taken"],
    ),
];

/// One column's values of a row group; `None`: there is none.
enum Column {
    Numbers(Vec<Option<i64>>),
    Texts(Vec<Option<ByteArray>>),
}

impl Index {
    /// Writes `records.parquet`, `checks.parquet` (every check of every record) and `noise.parquet`
    /// into a folder, which is made where it is missing.
    ///
    /// # Errors
    /// Where a file is there already, would lie in a record or cannot be written.
    pub fn write_parquet(&self, folder: &Path) -> Result<(), FleetError> {
        outside_records(folder)?;
        let made = fs::create_dir_all(folder);
        made.map_err(|e| failed(folder, e))?;
        for (name, query, columns) in TABLES {
            let path = folder.join(name);
            let file = File::create_new(&path).map_err(|e| failed(&path, e))?;
            let mut statement = self.database.prepare(query).map_err(|e| self.fail(e))?;
            write(file, &mut statement, columns).map_err(|e| failed(&path, e))?;
        }
        Ok(())
    }
}

fn failed(path: &Path, why: impl std::fmt::Display) -> FleetError {
    FleetError::Export {
        path: path.to_owned(),
        why: why.to_string(),
    }
}

fn write(file: File, statement: &mut Statement<'_>, columns: &[&str]) -> anyhow::Result<()> {
    let fields = columns.iter().map(|c| match c.strip_suffix(":text") {
        Some(name) => format!("OPTIONAL BYTE_ARRAY {name} (UTF8);"),
        None => format!("OPTIONAL INT64 {c};"),
    });
    let schema = format!("message loadwalk {{ {} }}", fields.collect::<String>());
    let schema = Arc::new(parse_message_type(&schema)?);
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .build();
    let mut writer = SerializedFileWriter::new(file, schema, Arc::new(properties))?;
    let mut rows = statement.query([])?;
    loop {
        let (group, n) = read(&mut rows, columns)?;
        if n > 0 {
            let mut out = writer.next_row_group()?;
            for column in group {
                let mut to = out
                    .next_column()?
                    .ok_or_else(|| anyhow::anyhow!("the file has too few columns"))?;
                match column {
                    Column::Numbers(values) => {
                        let (there, levels) = split(values);
                        to.typed::<Int64Type>()
                            .write_batch(&there, Some(&levels), None)?;
                    }
                    Column::Texts(values) => {
                        let (there, levels) = split(values);
                        to.typed::<ByteArrayType>()
                            .write_batch(&there, Some(&levels), None)?;
                    }
                }
                to.close()?;
            }
            out.close()?;
        }
        if n < GROUP {
            break;
        }
    }
    writer.close()?.file_metadata();
    Ok(())
}

/// The values that are there, and for each whether it is (1) or not (0).
fn split<T>(values: Vec<Option<T>>) -> (Vec<T>, Vec<i16>) {
    let levels = values.iter().map(|v| i16::from(v.is_some())).collect();
    (values.into_iter().flatten().collect(), levels)
}

/// The next rows, by column.
fn read(rows: &mut rusqlite::Rows<'_>, columns: &[&str]) -> anyhow::Result<(Vec<Column>, usize)> {
    let empty = |c: &&str| match c.ends_with(":text") {
        true => Column::Texts(Vec::new()),
        false => Column::Numbers(Vec::new()),
    };
    let mut group: Vec<Column> = columns.iter().map(empty).collect();
    let mut n = 0;
    while n < GROUP {
        let Some(row) = rows.next()? else { break };
        for (i, column) in group.iter_mut().enumerate() {
            match (column, row.get_ref(i)?) {
                (Column::Numbers(values), ValueRef::Integer(x)) => values.push(Some(x)),
                (Column::Numbers(values), _) => values.push(None),
                (Column::Texts(values), ValueRef::Text(x)) => values.push(Some(x.to_vec().into())),
                (Column::Texts(values), _) => values.push(None),
            }
        }
        n += 1;
    }
    Ok((group, n))
}
