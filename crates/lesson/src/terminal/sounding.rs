//! Calls as they come, when their tones sound, and what goes to the host.

use super::call::{CallStart, HeldCall};
use super::mute_windows::{By, OTHERS_ALLOWANCE};
use super::sound::{SoundId, SoundKind, SoundOrder};
use super::{
    AnswerLost, AnswerOutcome, CLOCK_PATIENCE, FURTHEST_START, HOST_SPEAKERS_ALLOWANCE,
    OUTPUT_LEAD, Terminal, UNSENT_KEPT,
};
use crate::Moment;
use crate::message::{CallId, CallNotice, FromStudent, LastCall, Tone};

impl Terminal {
    pub(super) fn called(&mut self, notice: &CallNotice, now: Moment) {
        self.last_refusal = None;
        // A call under the number of one that the host has lost.
        let lost = self.kept.take_lost(Some(LastCall {
            call: notice.call,
            start: notice.start,
            over: false,
        }));
        self.tell_lost(lost, AnswerLost::CallLost);
        let known = self.call.as_mut();
        if let Some(call) = known.filter(|c| c.is_of(notice.call, notice.start)) {
            call.refresh(notice);
            let fresh = call.first_sound.is_none();
            self.outbox.extend(self.unsent.drain(..));
            self.take_held(notice);
            if !fresh {
                return;
            }
        } else {
            self.unsent.clear();
            self.stop_playing();
            self.call_is_over();
            let mut call = HeldCall::new(notice, now);
            // A host that lost the next call goes back to this one: what waits stands
            // in it again, and no serial is given twice.
            call.last_serial = call
                .last_serial
                .max(self.told.last_serial(call.id, notice.start));
            for waiting in self.kept.of(call.id, notice.start) {
                call.take_waiting(waiting);
            }
            self.call = Some(call);
            self.tell_called();
            self.take_held(notice);
        }
        if !notice.on_asking {
            self.sounds_in_the_room(notice.start, now);
        }
        self.awaiting_clock = None;
        if notice.tone.is_some() && !notice.on_asking {
            self.order_or_await_clock(now);
        }
    }

    /// What the host says it holds: of answers sent before the connection was
    /// lost, or by a program of before this one.
    fn take_held(&mut self, notice: &CallNotice) {
        for held in &notice.held {
            let outcome = AnswerOutcome::Marked(held.mark);
            self.tell(notice.call, held.serial, outcome.clone());
            let call = self.call.as_mut();
            let unknown = call.is_some_and(|call| call.take_held(*held));
            if unknown && self.told.note(notice.call, notice.start, held.serial) {
                let told = self.told_of(notice.call, held.serial, held.answer, outcome);
                self.happened(told);
            }
        }
    }

    /// Sends the answers that have not gone out over this connection: after a lost
    /// one the host may hold them, or not. It says which, also of a call that ended
    /// meanwhile.
    pub(super) fn send_kept(&mut self) {
        if self.joined {
            self.outbox
                .extend(self.kept.take_unsent().map(FromStudent::Answer));
        }
    }

    /// Orders the first hearing, unless the host's clock is not known well enough
    /// yet and there is time for another exchange.
    pub(super) fn order_or_await_clock(&mut self, now: Moment) {
        let Some(call) = &self.call else { return };
        let latest = match self.clock.to_local(call.host_start) {
            None => now + CLOCK_PATIENCE,
            // A clock asked for as the program starts may be held up by that.
            Some(_) if self.clock.is_good(now) => now,
            Some(start) => (start - OUTPUT_LEAD).min(now + CLOCK_PATIENCE),
        };
        if latest > now {
            self.awaiting_clock = Some(latest);
        } else {
            self.order_first_sound(now);
        }
    }

    /// Orders the first hearing at the instant the host named, or at once if
    /// that is past or cannot be told.
    pub(super) fn order_first_sound(&mut self, now: Moment) {
        let Some(call) = &self.call else { return };
        let Some(tone) = call.tone else { return };
        let at = self.local_start(call.host_start, now);
        let id = self.order_sound(tone, at, SoundKind::Call);
        if let Some(call) = &mut self.call {
            call.first_sound = Some(id);
            call.first_ordered = Some(at);
        }
    }

    pub(super) fn heard_again(&mut self, id: CallId, start: Moment, now: Moment) {
        let at = self.local_start(start, now);
        if self.call_of(id).is_some_and(|c| !c.on_asking) {
            self.sounds_in_the_room(start, now);
        }
        let clock = &self.clock;
        let Some(call) = self.call.as_mut().filter(|c| c.id == id) else {
            return;
        };
        let Some(tone) = call.tone else {
            // The host's speakers: for who came after the first time, this is
            // the first.
            if call.started(clock).is_none() {
                call.start = CallStart::HostSpeakers(start);
                call.arrived = now;
            }
            return;
        };
        if call.first_sound.is_some() {
            self.order_sound(tone, at, SoundKind::Hearing);
        } else {
            call.host_start = start;
            self.awaiting_clock = None;
            self.order_first_sound(now);
        }
    }

    /// The host's speakers, or all terminals, sound a tone at `start` of the
    /// host's clock.
    pub(super) fn sounds_in_the_room(&mut self, start: Moment, now: Moment) {
        let tone = self.call.as_ref().and_then(|c| c.tone);
        let rules = self.welcome.as_ref().map(|w| w.rules.voice);
        let voice = tone.map(|t| t.voice).or(rules).unwrap_or_default();
        let (at, mut off) = match self.clock.to_local(start) {
            Some(at) if at <= now + FURTHEST_START => {
                (at, self.clock.uncertainty(now).unwrap_or_default())
            }
            _ => (now, CLOCK_PATIENCE),
        };
        let by = if tone.is_none() {
            off += HOST_SPEAKERS_ALLOWANCE;
            By::Speakers
        } else {
            off += OTHERS_ALLOWANCE;
            By::Others
        };
        self.mute_windows.in_the_room(by, at, off, voice);
    }

    /// The host's `start` on this clock, or `now` if that is past, cannot be
    /// told, or is further ahead than any lesson names.
    fn local_start(&self, start: Moment, now: Moment) -> Moment {
        match self.clock.to_local(start) {
            Some(at) if at > now && at <= now + FURTHEST_START => at,
            _ => now,
        }
    }

    pub(super) fn order_sound(&mut self, tone: Tone, at: Moment, kind: SoundKind) -> SoundId {
        self.next_sound += 1;
        let id = SoundId(self.next_sound);
        self.mute_windows.ordered(id, at, tone.voice);
        self.sounds.push_back(SoundOrder { id, tone, at, kind });
        id
    }

    /// Sends what belongs to the open call, or lets it wait for the
    /// connection to come back.
    pub(super) fn send(&mut self, message: FromStudent) {
        if self.joined && self.call.as_ref().is_some_and(|c| c.live) {
            self.outbox.push_back(message);
        } else if self.unsent.len() < UNSENT_KEPT {
            self.unsent.push_back(message);
        }
    }
}
