//! A record is one file: nothing in it may lead to another, or an edited record could bring the bytes of any file that its reader
//! may read into a report that goes to somebody else.

use hdf5::plist::dataset_create::Layout;
use hdf5::{Dataset, Group, IndexType, IterationOrder, LinkType};

/// Deepest nesting of groups and most objects that are looked at: ten times what a record of ours has.
const DEPTH_MAX: usize = 4;
const OBJECTS_MAX: usize = 2_000;

/// Looks at every link and dataset.
///
/// # Errors
/// In words, where one leads to another file (external link, external storage, virtual dataset) or is only a name of another.
pub(super) fn check(root: &Group) -> Result<(), String> {
    walk(root, 0, &mut 0)
}

fn walk(group: &Group, depth: usize, seen: &mut usize) -> Result<(), String> {
    if depth > DEPTH_MAX {
        return Err("its groups are nested deeper than in any record".into());
    }
    for (name, about) in group.links(IndexType::Name, IterationOrder::Native).map_err(|e| e.to_string())? {
        *seen += 1;
        if *seen > OBJECTS_MAX {
            return Err("it holds more objects than any record".into());
        }
        let shown = || format!("`{}/{}`", group.name().trim_end_matches('/'), crate::units::quoted(&name));
        match about.link_type {
            LinkType::Hard => {}
            LinkType::Soft => return Err(format!("{} is a soft link, which no record has", shown())),
            LinkType::External => return Err(format!("{} is a link to another file, which is not followed", shown())),
        }
        if let Ok(inside) = group.group(&name) {
            walk(&inside, depth + 1, seen)?;
        } else if group.dataset(&name).is_ok_and(|data| !is_inside(&data)) {
            return Err(format!("{} keeps its values in another file, which is not read", shown()));
        }
    }
    Ok(())
}

/// Whether the values of a dataset lie in its own file.
fn is_inside(data: &Dataset) -> bool {
    let Ok(plan) = data.dcpl() else { return false };
    plan.get_external().is_ok_and(|files| files.is_empty())
        && plan.get_layout().is_ok_and(|layout| layout != Layout::Virtual)
}
