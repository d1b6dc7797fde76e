//! Snapshots as ragged arrays: `snapshot` counts bodies, bodies count nodes (CF section 9.3.3, one level deeper).
//!
//! | dataset | along | |
//! | --- | --- | --- |
//! | `time` | `snapshot` | s, the recorded snapshots |
//! | `moment`, `pinch_index` | `snapshot` | why it was recorded; the pinch-off it belongs to |
//! | `bodies_in_frame` | `snapshot` | how many bodies a snapshot has |
//! | `nodes_in_body` | `body` | how many nodes a body has |
//! | `attached` | `body` | 1 for the thread that hangs on the nozzle |
//! | `z`, `h`, `u` | `node` | m, m, m/s |

use super::RecordError;
use super::budget::BudgetWriter;
use super::netcdf::{Growing, along, dimension, meaning, name_flags, text};
use super::read::Opened;
use crate::outcome::{BodyFrame, Frame, Moment};
use hdf5::Group;

/// What is recorded when.
const MOMENTS: &str = "even: at equal intervals from the start to the end of the run (where its length is given, as many as run.frames; \
    where drops are, at most as many and at least half, unless the run was over far sooner than foreseen; one that would fall on a \
    pinch-off is that snapshot); besides one snapshot at each pinch-off; about those of the attached thread also approach (even in the \
    logarithm of the neck's radius) and recoil (even in the logarithm of time): all of the first 30, then 8 in each \
    octave of their number, and those of the last two drops or periods";

/// Takes snapshots one by one; memory does not grow with their number.
pub(super) struct FrameWriter {
    group: Group,
    time: Growing<f64>,
    moment: Growing<i8>,
    pinch_index: Growing<i32>,
    bodies_in_frame: Growing<i32>,
    nodes_in_body: Growing<i32>,
    attached: Growing<i8>,
    z: Growing<f64>,
    h: Growing<f64>,
    u: Growing<f64>,
    budget: BudgetWriter,
}

impl FrameWriter {
    pub(super) fn new(group: &Group) -> hdf5::Result<Self> {
        Ok(FrameWriter {
            group: group.clone(),
            time: Growing::new(group, meaning("time", "s", "time since the start"))?,
            moment: Growing::new(group, meaning("moment", "1", "why the snapshot was recorded"))?,
            pinch_index: Growing::new(
                group,
                meaning("pinch_index", "1", "index of the pinch-off that the snapshot belongs to, -1 for none"),
            )?,
            bodies_in_frame: Growing::new(group, meaning("bodies_in_frame", "1", "number of bodies in the snapshot"))?,
            nodes_in_body: Growing::new(group, meaning("nodes_in_body", "1", "number of nodes of the body"))?,
            attached: Growing::new(group, meaning("attached", "1", "whether the body hangs on the nozzle"))?,
            z: Growing::new(group, meaning("z", "m", "axial position from the tip along the flow"))?,
            h: Growing::new(group, meaning("h", "m", "radius of the thread or drop"))?,
            u: Growing::new(group, meaning("u", "m s-1", "axial velocity"))?,
            budget: BudgetWriter::new(group)?,
        })
    }

    pub(super) fn push(&mut self, frame: &Frame) -> hdf5::Result<()> {
        self.budget.push(frame)?;
        self.time.extend(&[frame.time])?;
        self.moment.extend(&[frame.moment as i8])?;
        self.pinch_index.extend(&[frame.pinch.map_or(Ok(-1), count)?])?;
        self.bodies_in_frame.extend(&[count(frame.bodies.len())?])?;
        frame.bodies.iter().try_for_each(|body| self.push_body(body))
    }

    fn push_body(&mut self, body: &BodyFrame) -> hdf5::Result<()> {
        if body.h.len() != body.z.len() || body.u.len() != body.z.len() {
            return Err("a body has columns of unequal length".into());
        }
        self.nodes_in_body.extend(&[count(body.z.len())?])?;
        self.attached.extend(&[i8::from(body.attached)])?;
        self.z.extend(&body.z)?;
        self.h.extend(&body.h)?;
        self.u.extend(&body.u)
    }

    /// Writes what waits and ties the axes together.
    pub(super) fn finish(self) -> hdf5::Result<()> {
        let group = &self.group;
        let (time, snapshots) = self.time.finish()?;
        // elapsed time has no epoch, so it is no time coordinate of CF (section 4.4) and gives no dimension its name
        dimension(group, meaning("snapshot", "1", "recorded snapshots in order of time"), snapshots)?;
        along(group, &time, "snapshot")?;
        let (moment, _) = self.moment.finish()?;
        along(group, &moment, "snapshot")?;
        text(&moment, "coordinates", "time")?;
        name_flags(&moment, &Moment::ALL.map(Moment::name).join(" "))?;
        text(&moment, "comment", MOMENTS)?;
        let (pinch_index, _) = self.pinch_index.finish()?;
        along(group, &pinch_index, "snapshot")?;
        text(&pinch_index, "coordinates", "time")?;
        let (bodies_in_frame, _) = self.bodies_in_frame.finish()?;
        along(group, &bodies_in_frame, "snapshot")?;
        text(&bodies_in_frame, "coordinates", "time")?;
        text(&bodies_in_frame, "sample_dimension", "body")?;
        let (nodes_in_body, bodies) = self.nodes_in_body.finish()?;
        dimension(group, meaning("body", "1", "bodies of all snapshots, one after the other"), bodies)?;
        along(group, &nodes_in_body, "body")?;
        text(&nodes_in_body, "sample_dimension", "node")?;
        let (attached, _) = self.attached.finish()?;
        along(group, &attached, "body")?;
        name_flags(&attached, "free attached")?;
        let (z, nodes) = self.z.finish()?;
        dimension(group, meaning("node", "1", "nodes of all bodies, one after the other"), nodes)?;
        along(group, &z, "node")?;
        for (data, _) in [self.h.finish()?, self.u.finish()?] {
            along(group, &data, "node")?;
            text(&data, "coordinates", "z")?;
        }
        self.budget.finish()
    }
}

fn count(n: usize) -> hdf5::Result<i32> {
    i32::try_from(n).map_err(|_| hdf5::Error::from("more than 2^31 items in one body or snapshot"))
}

/// Reads all snapshots back and holds their counts against the lengths found.
pub(super) fn read(from: &Opened) -> Result<Vec<Frame>, RecordError> {
    let times = from.reals("time")?;
    let bodies_in_frame = from.counts("bodies_in_frame")?;
    let nodes_in_body = from.counts("nodes_in_body")?;
    let attached = from.whole_numbers("attached")?;
    let (z, h, u) = (from.reals("z")?, from.reals("h")?, from.reals("u")?);
    let (moment, pinch) = (from.counts("moment")?, from.whole_numbers("pinch_index")?);
    from.same_length(&[("time", times.len()), ("bodies_in_frame", bodies_in_frame.len())])?;
    from.same_length(&[("time", times.len()), ("moment", moment.len()), ("pinch_index", pinch.len())])?;
    from.same_length(&[("nodes_in_body", nodes_in_body.len()), ("attached", attached.len())])?;
    from.same_length(&[("z", z.len()), ("h", h.len()), ("u", u.len())])?;
    from.adds_up("bodies_in_frame", &bodies_in_frame, nodes_in_body.len())?;
    from.adds_up("nodes_in_body", &nodes_in_body, z.len())?;
    from.all_finite(&[("time", &times), ("z", &z), ("h", &h), ("u", &u)])?;
    from.never_falls("time", &times)?;

    let mut frames = Vec::with_capacity(times.len());
    let (mut body, mut node) = (0, 0);
    for (i, (&time, &bodies)) in times.iter().zip(&bodies_in_frame).enumerate() {
        let moment = Moment::ALL.get(moment[i]).copied().ok_or_else(|| from.damaged("`moment` holds no such flag"))?;
        let bodies_there = Vec::with_capacity(bodies);
        let pinch = usize::try_from(pinch[i]).ok();
        let mut frame = Frame { time, bodies: bodies_there, moment, pinch, budget: None };
        for _ in 0..bodies {
            let nodes = node..node + nodes_in_body[body];
            frame.bodies.push(BodyFrame {
                attached: attached[body] != 0,
                z: z[nodes.clone()].to_vec(),
                h: h[nodes.clone()].to_vec(),
                u: u[nodes.clone()].to_vec(),
            });
            node = nodes.end;
            body += 1;
        }
        frames.push(frame);
    }
    super::budget::read(from, &mut frames)?;
    Ok(frames)
}
