//! Processes killed and stopped while they read.

use crate::support::{Run, TestJob, wait};
use rustix::process::{Pid, Signal, kill_process};
use std::fs;
use std::process::Child;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Longest wait for something that a healthy machine does at once.
const PATIENCE: Duration = Duration::from_secs(30);

/// The child processes of a process, as /proc has them.
fn children_of(parent: u32) -> Vec<Pid> {
    let listed = fs::read_dir("/proc").expect("these tests need /proc");
    let numbers = listed.filter_map(|entry| entry.ok()?.file_name().to_str()?.parse::<i32>().ok());
    numbers
        .filter(|number| {
            let stat = fs::read_to_string(format!("/proc/{number}/stat")).unwrap_or_default();
            // The name in brackets may hold anything; state and parent follow the last of them.
            let after = stat.rsplit(')').next().unwrap_or_default();
            let mut words = after.split_whitespace();
            let state = words.next();
            state != Some("Z") && words.next() == Some(&parent.to_string())
        })
        .filter(|number| {
            // Between fork and exec a child still is its parent, which waits for it; stopped there, both would wait.
            let arguments = fs::read(format!("/proc/{number}/cmdline")).unwrap_or_default();
            arguments.split(|byte| *byte == 0).nth(1) == Some(b"worker")
        })
        .filter_map(Pid::from_raw)
        .collect()
}

/// Processor time that a process has used, in hundredths of a second, as /proc has it.
fn ticks_of(process: Pid) -> u64 {
    let stat = fs::read_to_string(format!("/proc/{}/stat", process.as_raw_nonzero()));
    let stat = stat.unwrap_or_default();
    let after = stat.rsplit(')').next().unwrap_or_default();
    // User and system time: fields 14 and 15 of the line, 12 and 13 after the name.
    let times = after.split_whitespace().skip(11).take(2);
    times.filter_map(|time| time.parse::<u64>().ok()).sum()
}

/// A worker that used this much is past its start, which takes about a tenth of it.
const BUSY: u64 = 40;

fn has_ended(child: &mut Child) -> bool {
    child.try_wait().expect("the child can be asked").is_some()
}

/// Sends every worker that is seen a signal, again and again, until `enough` were hit or the reading ended.
fn hit_workers(child: &mut Child, signal: Signal, enough: usize, pause: Duration) -> usize {
    let start = Instant::now();
    let mut hit = Vec::new();
    while hit.len() < enough && !has_ended(child) && start.elapsed() < PATIENCE {
        sleep(pause);
        for worker in children_of(child.id()) {
            if hit.len() < enough && !hit.contains(&worker) && kill_process(worker, signal).is_ok()
            {
                hit.push(worker);
            }
        }
    }
    hit.len()
}

/// Reads what is left and asserts that nothing is missing.
#[track_caller]
fn a_next_run_completes(job: &TestJob, sheets: u64) -> Run {
    let run = job.run("read", ["--json"]);
    assert!(matches!(run.code, Some(0 | 1)), "{run:#?}");
    let json = run.json();
    assert_eq!(json["sheets"], sheets);
    assert_eq!(
        json["read"].as_u64().unwrap() + json["unchanged"].as_u64().unwrap(),
        sheets
    );
    let again = job.run("read", ["--json"]).json();
    assert_eq!(again["unchanged"], sheets, "{again:#}");
    job.is_accounted_for();
    run
}

#[test]
fn killed_workers_cost_no_sheet() {
    for (killed, pause) in [(1, 150), (3, 150), (25, 40)] {
        let job = TestJob::of_sheets(6);
        let mut child = job.start("read", ["--workers", "2"]);
        let hit = hit_workers(
            &mut child,
            Signal::KILL,
            killed,
            Duration::from_millis(pause),
        );
        assert!(hit > 0, "no worker was seen");
        let run = wait(child);
        assert!(matches!(run.code, Some(0 | 1)), "{killed} killed: {run:#?}");
        let draft = job.is_accounted_for();
        for (_, reason) in &draft.exceptions {
            let is_clear =
                reason.contains("blank") || reason.contains("two workers ended while they read");
            assert!(is_clear, "{reason}");
        }
        a_next_run_completes(&job, 6);
    }
}

#[test]
fn a_stopped_worker_runs_into_the_deadline() {
    let job = TestJob::of_sheets(12);
    let mut child = job.start("read", ["--workers", "1", "--deadline", "3"]);
    // The first worker only tells the reader's name; the second reads, once it has worked longer than starting takes.
    let start = Instant::now();
    let mut seen: Vec<Pid> = Vec::new();
    let stopped = loop {
        assert!(!has_ended(&mut child) && start.elapsed() < PATIENCE);
        sleep(Duration::from_millis(5));
        for worker in children_of(child.id()) {
            if !seen.contains(&worker) {
                seen.push(worker);
            }
        }
        if let [_, worker] = seen[..]
            && ticks_of(worker) > BUSY
        {
            break kill_process(worker, Signal::STOP);
        }
    };
    assert!(stopped.is_ok(), "{stopped:?}");
    let run = wait(child)
        .exits(1)
        .says(&["worker-late", "not read within 3 seconds"]);
    assert!(run.out.contains("12 sheets: 12 read"), "{run:#?}");
    let draft = job.is_accounted_for();
    assert!(
        draft
            .exceptions
            .iter()
            .any(|(_, reason)| reason.contains("not read within 3 seconds"))
    );
    a_next_run_completes(&job, 12);
    // The late sheet was read after all.
    let draft = job.is_accounted_for();
    assert!(
        draft
            .exceptions
            .iter()
            .all(|(_, reason)| !reason.contains("not read within"))
    );
}

#[test]
fn a_killed_read_is_completed_by_the_next() {
    let job = TestJob::of_sheets(8);
    // Moments spread over a run: at the start, among the workers' starts, among the sheets.
    for milliseconds in [3, 30, 120, 250, 400, 550, 700] {
        let mut child = job.start("read", ["--workers", "2"]);
        sleep(Duration::from_millis(milliseconds));
        let _ = child.kill();
        let run = wait(child);
        assert!(!run.err.contains("panicked"), "{run:#?}");
    }
    a_next_run_completes(&job, 8);
}
