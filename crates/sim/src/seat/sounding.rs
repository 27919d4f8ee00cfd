//! What a terminal sounds, by its output.

use core::time::Duration;

use fifthpeg_lesson::terminal::{SoundId, SoundKind, SoundOrder};

use crate::world::{Happening, World};

/// How long a tone lasts.
const TONE: Duration = Duration::from_millis(1400);
/// Terminals without a sound output, of a thousand tones.
const NOT_SOUNDED: u64 = 5;

impl World {
    pub(super) fn sound(&mut self, seat: usize, order: SoundOrder) {
        let now = self.seat_now(seat);
        let call = self.call_at(seat);
        if order.kind == SoundKind::Call
            && let Some(call) = call
        {
            self.seats[seat]
                .sounded
                .push((call, order.tone.frequency_hz));
            self.check_start(seat, call, &order, now);
        }
        let s = &mut self.seats[seat];
        s.orders.insert(order.id, (order, call));
        let program = s.program;
        let at = s.clock.true_of(order.at.max(now)).max(self.now);
        let late = self.dice.below(self.seats[seat].output_us / 2 + 1);
        self.at(at + late, Happening::Tone(seat, program, order.id));
    }

    pub fn tone_starts(&mut self, seat: usize, program: u32, id: SoundId) {
        if self.seats[seat].program != program {
            return;
        }
        let Some((order, call)) = self.seats[seat].orders.remove(&id) else {
            return;
        };
        if self.seats[seat].silent {
            self.with_terminal(seat, |terminal, _| terminal.handle_silent(id));
            return;
        }
        if self.dice.chance(NOT_SOUNDED) {
            self.with_terminal(seat, |terminal, _| terminal.handle_not_sounded(id));
            return;
        }
        let told = self.seat_now(seat);
        let output_us = self.seats[seat].output_us;
        let off = i128::from(self.dice.between(0, 2 * output_us)) - i128::from(output_us);
        if order.kind == SoundKind::Call
            && let Some(call) = call
        {
            let really = i128::from(told.micros()) + off;
            self.seats[seat].started.insert(call, really);
        }
        let uncertainty = Duration::from_micros(output_us);
        self.with_terminal(seat, |terminal, _| {
            terminal.handle_sounded(id, told, uncertainty, TONE);
        });
    }
}
