// Package dashboards serves the pages a finisher reads at night: Tonight, what
// each room's air allows and when each coat is ready; Room, how the air got there;
// Plan, what tomorrow would bring; the shop's wall; and the pages of the journal.
// It renders on the server, so that a page reads without JavaScript, and keeps an
// open page current through server-sent events. It holds no state and starts no
// goroutine of its own; what it shows comes through small interfaces. TOUR.md
// shows the pages.
package dashboards
