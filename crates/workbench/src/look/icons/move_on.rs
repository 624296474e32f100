//! Signs for going on and back, turning, adding and stopping.

use super::pen::Pen;

pub(super) fn undo(pen: &Pen<'_>) {
    pen.line(&[[8.5, 4.5], [4.0, 9.0], [8.5, 13.5]]);
    pen.line(&[[4.5, 9.0], [14.0, 9.0]]);
    pen.arc([14.0, 14.0], [5.5, 5.0], -0.25, 0.25);
    pen.line(&[[14.0, 19.0], [10.0, 19.0]]);
}

pub(super) fn redo(pen: &Pen<'_>) {
    pen.line(&[[15.5, 4.5], [20.0, 9.0], [15.5, 13.5]]);
    pen.line(&[[19.5, 9.0], [10.0, 9.0]]);
    pen.arc([10.0, 14.0], [5.5, 5.0], 0.25, 0.75);
    pen.line(&[[10.0, 19.0], [14.0, 19.0]]);
}

pub(super) fn stop(pen: &Pen<'_>) {
    pen.full_block([6.0, 6.0], [18.0, 18.0], 2.0);
}

pub(super) fn add(pen: &Pen<'_>) {
    pen.line(&[[12.0, 5.0], [12.0, 19.0]]);
    pen.line(&[[5.0, 12.0], [19.0, 12.0]]);
}

pub(super) fn remove(pen: &Pen<'_>) {
    pen.line(&[[6.5, 6.5], [17.5, 17.5]]);
    pen.line(&[[17.5, 6.5], [6.5, 17.5]]);
}

pub(super) fn done(pen: &Pen<'_>) {
    pen.line(&[[5.0, 12.5], [10.0, 17.5], [19.5, 6.5]]);
}

pub(super) fn wrong(pen: &Pen<'_>) {
    pen.circle(12.0, 12.0, 9.0);
    pen.line(&[[12.0, 7.0], [12.0, 13.0]]);
    pen.dot(12.0, 16.6, 1.2);
}

pub(super) fn turn(pen: &Pen<'_>) {
    pen.line(&[[12.0, 3.0], [12.0, 21.0]]);
    pen.arc([12.0, 12.5], [9.0, 4.0], -0.12, 0.62);
    pen.line(&[[3.2, 13.0], [3.0, 8.6], [7.2, 8.2]]);
}

pub(super) fn turntable(pen: &Pen<'_>) {
    pen.arc([12.0, 15.5], [9.0, 4.0], 0.0, 1.0);
    pen.line(&[[9.0, 14.5], [8.0, 5.5], [16.0, 5.5], [15.0, 14.5]]);
}

pub(super) fn shuffle(pen: &Pen<'_>) {
    pen.circle(7.0, 8.0, 3.4);
    pen.circle(16.5, 7.0, 2.2);
    pen.circle(15.5, 15.5, 4.0);
    pen.circle(7.0, 17.0, 2.4);
}

pub(super) fn see_all(pen: &Pen<'_>) {
    pen.line(&[[3.5, 8.5], [3.5, 3.5], [8.5, 3.5]]);
    pen.line(&[[15.5, 3.5], [20.5, 3.5], [20.5, 8.5]]);
    pen.line(&[[20.5, 15.5], [20.5, 20.5], [15.5, 20.5]]);
    pen.line(&[[8.5, 20.5], [3.5, 20.5], [3.5, 15.5]]);
    pen.block([9.0, 7.0], [15.0, 17.0], 2.5);
}
