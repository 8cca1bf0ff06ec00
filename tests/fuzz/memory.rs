//! Counts what the thread that reads has allocated.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

thread_local! {
    static HELD: Cell<isize> = const { Cell::new(0) };
    static MOST: Cell<isize> = const { Cell::new(0) };
}

struct Counting;

#[global_allocator]
static COUNTING: Counting = Counting;

/// Adds to what is held; a thread that is ending is not counted.
fn count(bytes: isize) {
    let _ = HELD.try_with(|held| {
        held.set(held.get() + bytes);
        let _ = MOST.try_with(|most| most.set(most.get().max(held.get())));
    });
}

fn size(bytes: usize) -> isize {
    isize::try_from(bytes).unwrap_or(isize::MAX)
}

// SAFETY: every call is handed on to the system's allocator as it is; counting allocates nothing.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count(size(layout.size()));
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        count(-size(layout.size()));
        unsafe { System.dealloc(pointer, layout) }
    }

    unsafe fn realloc(&self, pointer: *mut u8, layout: Layout, new: usize) -> *mut u8 {
        count(size(new) - size(layout.size()));
        unsafe { System.realloc(pointer, layout, new) }
    }
}

/// The most bytes that were held at one time, on this thread, beyond what was held before.
pub fn most(run: impl FnOnce()) -> isize {
    let before = HELD.get();
    MOST.set(before);
    run();
    MOST.get() - before
}

#[test]
fn what_is_held_is_counted() {
    assert!(most(|| drop(std::hint::black_box(vec![0_u8; 1 << 20]))) >= 1 << 20);
    assert!(most(|| {}) < 1024);
}
