### What Gripline says, in English.

## Numbers with their units

interval = { $low } to { $high }
between = { $low } and { $high }{ $unit }
unit-turns = turns
unit-m-per-metre = m per metre
unit-per-metre = per metre
told = { $what } { $value } ({ $interval })
told-unseen = { $what }: not observable, { $why }
told-side = { $told }, to the { $side ->
    [left] left
   *[right] right
}
told-signed = { $told }, left positive
quoted = “{ $words }”
not-observable = not observable
cost-none = 0 mm (below 1)
frame-at = frame { $frame }

## Quantities

key-release_s = first motion, after the clip's first frame
key-powered_s = time from release to the end of the pull
key-peak_speed_m_per_s = highest speed of the car
key-distance_m = distance travelled while in view
key-wheel_turns = turns of the driven wheel while in view
key-max_slip = largest slip ratio under power: 0 rolls, 1 spins on the spot
key-spun_away_m = distance wasted in wheelspin
key-gain_without_slip_m = how much further the car would roll without wheelspin, by the time it stands
key-rolling_radius_m = rolling radius of the driven wheel
key-final_deviation_m = distance left of the aim line at the end of the view
key-drift_m_per_m = distance to the left for every metre travelled
key-aim_error_rad = heading at the start against the aim line, left positive
key-curvature_per_m = steady curvature of the path, left positive
key-implied_skew_rad = angle between the axles that would steer this curve
key-wobble_m = sideways sway once per turn of the wheel
key-string_slip_turns = turns that the string should have given but did not
key-loose_wheel_turns = turns of the axle that its wheel did not follow
key-coast_deceleration_m_per_s2 = loss of speed per second while coasting, at the speed that the string left the car with
key-rolling_resistance = coasting loss as a share of the weight
key-grip_coefficient = friction under the driven wheels while they slip
key-energy_moving_car_j = energy of the car's motion at the end of the pull, joule
key-energy_lost_in_slip_j = energy that went into rubbing under spinning wheels, joule
key-energy_lost_rolling_j = energy that rolling and air took during the pull, joule

## What an interval comes from, and what to do about it

input-sticker_height = the sticker height
input-sticker_height-do = measure the sticker height
input-sticker_ahead = the sticker's distance from the axle
input-sticker_ahead-do = measure how far the sticker sits ahead of the driven axle
input-sticker_off_centre = the sticker's side offset
input-sticker_off_centre-do = measure the sticker's side offset, from the car's middle to the sticker
input-track_width = the track width
input-track_width-do = measure the track width
input-wheel_diameter = the wheel diameter
input-wheel_diameter-do = measure the wheel diameter
input-lens = the bend of the lens
input-lens-do = film with the main lens from further away, the run in the middle of the picture
input-row_time = the sensor's row time
input-row_time-do = give the camera's `readout_ms`, or film at a higher frame rate
input-mark_radius = the wheel mark's distance from the hub
input-mark_radius-do = measure the wheel mark's distance from the hub
input-floor_marks = the floor marks' places
input-floor_marks-do = measure the floor marks' places again, or lay more of them further apart
input-pixel_noise = the marks' places in the picture
input-pixel_noise-do = film nearer, in better light, with larger marks
input-string_sizes = the sizes of string and axle
input-string_sizes-do = measure `string_mm`, `axle_diameter_mm` and `string_diameter_mm`
input-driven_share = the share of the weight on the driven axle
input-driven_share-do = weigh the driven axle and the whole car again, the car level
input-plain_scale = the plain scale
input-plain_scale-do = lay four or more floor marks at known places, not in a line
input-method = not explained by what is measured

## Causes

cause-grip = grip
cause-alignment = alignment
cause-aim = aim
cause-wobble = wobble
cause-drive = drive
cause-drag = drag
cause-none = none
cause-undetermined = undetermined
verdict-grip = grip - the driven wheels spun on the spot: the pull never reached the floor
verdict-alignment = alignment - the car steers itself along a steady curve
verdict-aim = aim - the car ran straight but was set down pointing off line
verdict-wobble = wobble - a wheel that is not square makes the car sway once a turn
verdict-drive = drive - turns of the string or axle never reached the floor
verdict-drag = drag - something rubs, and the coast dies far too soon
verdict-none = none - no fault found
verdict-undetermined = undetermined - this view cannot tell
unmeasured-clock = The clip's clock or the sizes cannot be right.
unmeasured-path = The path of the car could not be put on the floor.
check-clock = check `[camera] capture_fps`, the floor marks' places and the sticker height in the run sheet
check-path = check the floor marks' places and the sticker height in the run sheet

## What shows it

because-max-slip = largest slip under power
because-spun = wasted in wheelspin
because-spun-least = wasted in wheelspin while the wheel was in view, which is the least that it was
because-skew = axles askew by
because-heading = first heading off the aim line by
because-off-line = end of the view off line by
because-curve = steady curve
because-sway = sway to either side
because-string = turns that the string should have given but did not
because-axle = turns of the axle that its wheel did not follow
because-drive-cost = travel that this cost
because-coast = loss of speed while coasting
because-drag-cost = way lost in view
because-friction = friction while slipping
because-yaw = off line by turning while the wheel slipped, and only then
because-peak = highest speed
because-share = coasting loss as a share of the weight
because-ordinary = { $told }; such cars lose { $low } to { $high }
because-clear = every fault looked for costs surely less than { $mm } mm
because-open = to rule every fault out, each would have to cost surely less than { $mm } mm
because-not-judged = not judged: { $what }
because-not-asked = { $cause } ({ $why })
because-sway-driven = the sway keeps step with the driven wheel (weight of that explanation: { $weight })
because-sway-other = the sway keeps step with something other than the driven wheel, as the other axle's wheels would (weight of that explanation: { $weight })
open-end-unseen = { $cause }: the end of the pull was not seen; by the turns until then up to { $mm } mm may have been lost
open-hidden = { $cause }: no sign of it, but up to { $mm } mm could hide in this view
open-skewed = alignment: the path curves, but this view cannot tell axles that are askew from a wheel that lets go before the other; a mark on the driven wheel in view, or more of the coast, would decide
unseen-quantity = { $key }: { $why }

## What to try

caution = Advice is common practice, without a source. Cautions: a trap spring can break a finger, so hold it by its base and work with it unwound; cut away from the hand; use glue, hot glue and solvents with fresh air and as their labels say; keep ovens and heat to an adult; follow the rules of your school or club and work under supervision.
try-with-gain = { $step } ({ $gain })
gain-closer = brings the car { $range } closer to the line at the end of the view
gain-coast = an ordinary coast would go { $range } further before the car stands
gain-sway = takes out { $range } of sway from side to side
gain-drive = turns for { $range } of travel never reached the floor
gain-slip = { $wasted } wasted in wheelspin; without wheelspin the car would stop { $range } further on
gain-slip-unseen = { $wasted } wasted in wheelspin; how much further the car would go is not told: { $why }
try-straightedge = set the car down against a straightedge laid along the aim line
try-let-go = let go without a sideways push
try-rub = spin each wheel by hand with the string off and see which stops first: that one rubs or its axle is pinched
try-play = give the axle a little play end to end, and a washer between wheel and body
try-string-off = check that the string comes off its axle at the end of the pull, or it brakes
try-lubricant = a drop of dry lubricant in the axle's holes
try-compare = compare runs to see whether the car repeats itself
try-longer-arm = for more distance, a longer arm or thinner axle spreads the same spring over more travel
try-tread = give the driven wheels a soft tread: a strip of inner tube or a thin bead of silicone, and wipe wheels and floor clean of dust
try-soften = soften the start: a longer arm or a thinner axle pulls less at the rim
try-weight = move weight over the driven axle
try-even = make both driven wheels grip alike: the car turned because one let go first
try-turn-axle = { $curve ->
    [left] the car curves to the left: turn the front axle to the right and run again
   *[right] the car curves to the right: turn the front axle to the left and run again
}
try-turn-axle-by = { $curve ->
    [left] the car curves to the left: turn the front axle to the right by { $degrees } degrees and run again
   *[right] the car curves to the right: turn the front axle to the left by { $degrees } degrees and run again
}
try-square = check that both axles are square to the body and that no wheel drags
try-wheelbase = a longer wheelbase makes the same error matter less
try-true-driven = a driven wheel is not square on its axle: hold a pencil beside the rim, turn the wheel, and true it until the gap stays the same
try-true-other = a wheel of the other axle is not square on its axle: hold a pencil beside the rim, turn the wheel, and true it until the gap stays the same
try-hub = glue a wide hub or a washer on both sides of the wheel so that it cannot lean
try-bent = replace a bent axle
try-string = stop the string from sliding on its axle: a hook or a knot in a notch, the first turn over itself, a wrap of tape under it
try-fix-wheel = fix the driven wheel to its axle: it turned less than the axle did; glue it or press it on a sleeve
try-fixed = check that the driven wheels are fixed to their axle; a mark on the axle's end, named in the run sheet as `[axle_mark]`, tells which of the two slips
try-measure-string = measure `string_mm`, `axle_diameter_mm` and `string_diameter_mm` again: the missing turns rest on them
try-see-slip = to see slip: put a bright mark on the outer face of the driven wheel, name it in the run sheet, and keep it in view until the car coasts
try-see-sideways = to see sideways motion: lay four or more floor marks at known places, not in a line, and keep them in view
try-see-string = to judge the string: keep the wheel mark in view, and lit, until the string is off its axle and a little longer, and give `string_mm`, `axle_diameter_mm` and `string_diameter_mm` on the run sheet
try-film = the intervals are too wide to tell: film nearer, in better light, at 60 frames a second or more
try-narrower = for a narrower interval of “{ $what }”: { $action } ({ $input }: { $share } % of its variance)

## Why something is not observable: the view

why-few-marks = the run sheet names { $named } floor marks; four or more that are not in a line give a camera
why-marks-in-line = the floor marks in the run sheet lie in a line; a camera needs four that do not
why-no-fit = { $patches } patches of the floor marks' colour lie still in the picture, but no four of them fit the places in the run sheet
why-moves-unplaced = the camera moves, and in no frame do four of the { $named } floor marks, no three of them in a line, fit the places in the run sheet; keep at least four such in view all along, or put the phone on something steady
why-moves-otherwise = the camera moves in a way that the floor marks do not follow
why-moves = the camera moves
why-no-known-size = nothing in the view has a known size: lay floor marks at known places, or give the wheel mark's radius in the run sheet
why-plain-scale = this view has a plain scale only: four floor marks that are not in a line would show sideways motion

## Why something is not observable: the marks

why-sticker-unseen = the sticker was not seen
why-sticker-seldom = the sticker was seen in too few frames
why-off-the-floor = the sticker's place does not meet the floor in this view
why-no-smooth-path = no smooth path fits the sticker's places at the times of the frames
why-never-moves = the car does not move in this clip
why-already-moving = the car was already moving when it came into view
why-rest-unsure = whether the car stood still when the clip begins cannot be told
why-short-clip = the clip is too short
why-no-wheel-mark = no mark was named
why-no-axle-mark = no mark on the axle's end was named in the run sheet, or none was seen
why-few-wheel-frames = the wheel mark was seen beside the sticker in { $seen } frames; at least { $needed } are needed
why-off-hub = what has the wheel mark's colour circles a point { $mm } mm from the hub that the run sheet gives
why-no-circle = what has the wheel mark's colour does not follow a circle about the hub
why-turned-too-little = the wheel turned too little for its hub to be found, and the run sheet does not give the mark's radius
why-other-wheel = the wheel mark's turns on the coast ask for a wheel of { $rolls } mm, the run sheet says { $sheet } mm: something else was taken for the mark, or turns were lost
why-turned-less = the wheel mark turned { $short } m less than the car went, which no driving wheel does: something else was taken for the mark, or turns were lost
why-few-kept = only { $kept } of { $of } sightings of the wheel mark follow a circle at a steady rate
why-half-turns = the wheel turns by more than half a turn from one sighting of its mark to the next in { $beyond } of { $of }, so its turns cannot be counted surely
why-count-unsure = after { $sure } of { $of } sightings of the wheel mark its turns can no longer be counted surely
why-and-remedy = { $fact }; { $remedy }
remedy-off-the-floor = check the floor marks' places and the sticker height
remedy-rest-unsure = begin a second before the release, and hold the phone still
remedy-off-hub = check `ahead_mm` and the wheel diameter, and that nothing else near the car has that colour
remedy-few-kept = film in better light or nearer, with nothing else of its colour near the car
remedy-half-turns-rate = film at { $rate } frames a second or more
remedy-half-turns = use a larger wheel or a slower start
remedy-count-unsure = keep the mark in view and in good light, or film at a higher frame rate
remedy-other-wheel = film nearer, in better light, or with more frames a second

## Why something is not observable: the run

why-not-on-sheet = the run sheet does not give { $what ->
    [driven-share] `driven_share`
    [mass] the car's `mass_g`
    [wheelbase] `wheelbase_mm`
   *[string] both `axle_diameter_mm` and `string_mm`
}
why-wheel-late = the wheel mark was first seen { $late } s after the start; have the driven wheel in view, and lit, before the release
why-uneven-scale = the car came nearer or went away by { $share } % while it ran, and a plain scale cannot follow that; lay four floor marks that are not in a line
why-short-path = the car went { $over } m in view; its path has a shape from { $least } m
why-clock-unknown = the clip looks like slow motion with unknown frame rate: give `[camera] capture_fps` in the run sheet
why-wheel-unseen = the wheel mark was not seen beside the sticker
why-wheel-lost = the wheel mark was lost too early for its turns to be counted; film nearer, in better light, or from where nothing hides the wheel
why-wheel-lost-before-end = the wheel mark was lost before the end of the pull
why-axle-apart = wheel mark and axle mark were not seen together
why-slow-rim = the rim never turned fast enough under power for slip to be defined
why-brief-slip = the wheel did not slip long enough to show the friction
why-no-radius = the clip shows no coast from which to take the rolling radius, and the run sheet does not give the wheel diameter
why-pull-unseen = the pull was not in view
why-pull-not-whole = the pull was not in view from release to end
why-still-gaining = the car was still gaining speed when it left the view
why-end-unclear = the end of the pull is not in view, or the pull fades out without a clear end
why-end-untold = the car's speed alone does not tell when the string ran out: a wheel that spins goes on pushing until it grips; put a mark on the driven wheel and keep it in view
why-short-coast = the clip shows no coast long enough to measure its slowing down
why-no-coast-for-gain = the clip shows no coast from which to tell what a metre of rolling costs
why-short-coast-for-gain = the coast in view is too short to tell what a metre of rolling costs
why-no-shape = the path is too short to have a shape
why-sway-untold = the car did not go far enough in view to tell a sway from a curve
why-not-computed = it was not computed
why-indeterminate = the numbers do not determine it
why-spun-out-of-sight = the wheel spun, and the view that shows the path does not show the wheel: a car turned by the spin cannot be told from one that steers itself or was set down askew
why-no-run = nothing was released in this clip
why-sticker-still = the sticker never moved in this clip, so there is no run to measure; start filming before the release, and keep the car in view until it coasts
why-too-quick = the clock or the sizes are in doubt ({ $sign }): check `[camera] capture_fps` and the floor marks' places in the run sheet
sign-too-quick = the car would gain { $pull } m/s in a second, more than tyres can push
doubt-too-quick = the clip's clock or the run sheet's sizes cannot be right: { $sign }; check `[camera] capture_fps` and the floor marks' places in the run sheet
doubt-too-slow = this looks like slow motion with unknown frame rate: { $sign }. Write the rate at which the clip was taken into the run sheet as `[camera] capture_fps`, or { $rate } if the clip plays as fast as the run was
doubt-too-slow-likely = this looks like slow motion with unknown frame rate: { $sign }; { $likely } frames a second would make it an ordinary car. Write the rate at which the clip was taken into the run sheet as `[camera] capture_fps`, or { $rate } if the clip plays as fast as the run was
doubt-or = { $one } or { $other }
sign-weak-pull = the car would gain only { $pull } m/s in a second under power
sign-weak-spin = the wheel slips although the car would gain only { $pull } m/s in a second
sign-free-coast = the car would lose only { $loss } m/s in a second while it coasts, less than a train
sign-low-peak = the car would never be faster than { $peak } m/s

## Two phones

missed-slow-motion = the sound of slow motion ({ $view ->
    [side] the side view
   *[end] the end view
}) is not in step
missed-no-sound = { $view ->
    [side] the side view has no sound
   *[end] the end view has no sound
}
missed-no-snap = no sudden sound stands out in { $view ->
    [side] the side view
   *[end] the end view
} where the car begins to move
missed-motion = { $view ->
    [side] the side view does not show the first motion ({ $why })
   *[end] the end view does not show the first motion ({ $why })
}
align-other-bang = the loudest bang in the two sound tracks disagrees with the first motion by { $ms } ms, so it was not taken for the snap of the spring
align-unchecked = the sound could not be checked by the pictures: { $why }
align-no-snap = not lined up by sound: { $why }
align-not = the two clips cannot be lined up: { $sound }, and { $motion }
join-not-measured = { $view ->
    [side] the side view: { $why }
   *[end] the end view: { $why }
}
join-other-run = the two clips do not show the same run: at the same moments their speeds differ by { $share } %

## Ten words

word-release = Release
word-release-means = the moment when the car starts to move.
word-pull = Pull
word-pull-means = the part of the run in which the spring pulls the string and the string turns the axle.
word-coast = Coast
word-coast-means = the part after the pull: the car rolls on with the speed that it has.
word-rim = Rim
word-rim-means = the outer edge of a wheel, where it touches the floor.
word-wheelspin = Wheelspin
word-wheelspin-means = the wheel turns but slides on the floor, so the car goes less far than the rim turned.
word-slip = Slip
word-slip-means = how much of the rim's turning is wasted. 0: the wheel rolls. 0.5: half is wasted. 1: it spins on the spot.
word-grip = Grip
word-grip-means = how hard the floor holds the wheel. More grip, less wheelspin.
word-aim-line = Aim line
word-aim-line-means = the straight line on the floor that the car should follow.
word-off-line = Off line
word-off-line-means = how far to the side of the aim line the car is.
word-interval = Interval
word-interval-means = two numbers. The true value lies between them in 95 of 100 cases. A narrow interval is a sure number.

## Worksheet

the-car = the car
sheet-title = { $car }: worksheet
sheet-kicker = Worksheet · { $car }
sheet-heading = What did our car do, and why?
sheet-help = Print it and write by hand, or type here and print. What you type is not kept when the page is closed.
sheet-guess = 1. Our guess
sheet-guess-ask = Before the run we thought that the car would …, because …
sheet-changed = 2. What we changed
sheet-change = On the run sheet: { $change }
sheet-changed-ask = One thing only. What stayed the same?
sheet-happened = 3. What happened
sheet-happened-ask = What we saw ourselves:
sheet-sure = 4. How sure are we?
sheet-between = { $meaning }: between { $between }
sheet-sure-means = The true value lies between the two numbers in 95 of 100 cases. This is one run: another may differ by more than that.
sheet-unseen = What the clip could not show: { $what }.
sheet-sure-ask = How many runs did we make? Did they agree?
sheet-next = 5. Next
sheet-suggest = The numbers suggest: { $step }.
sheet-next-ask = We will change …, and we expect …
sheet-words = Ten words

## Poster, and the picture of the whole run

poster-title = { $car }: poster
poster-heading = Poster of { $car }
poster-help = Print this page on { $paper }, landscape. poster.png beside it is the same for a print shop.
poster-between = between { $between }
poster-no-number = No number of this run could be told from this view.
poster-above = The same from above
poster-no-way = How far the car went is not observable from this view.
poster-gap = The gap is wheelspin
poster-no-gap = The rim turned as far as the car went
poster-way = How far the car went
poster-no-rim = How far the rim turned is not observable: { $why }.
poster-foot = { $caption } Between: the interval that holds the true value in 95 of 100 cases. Measured with gripline.
poster-foot-above = { $caption } From above: the floor is true to scale, what stands up leans away from the camera. Between: the interval that holds the true value in 95 of 100 cases. Measured with gripline.
caption-taken = { $every ->
    [time] { $count } pictures of the car from the clip, one every { $step } s
   *[frames] { $count } pictures of the car from the clip, at equal numbers of frames
}{ $cut ->
    [0] {""}
    [1] {" "}(one is left out: the edge of the frame cut the car)
   *[other] {" "}(some are left out: the edge of the frame cut the car)
}, over the floor as the median of { $frames } frames.{ $ruler ->
    [none] {""}
    [flat] {" "}The ruler below the wheels counts from under the driven axle in picture 1; it holds where the car drove, not nearer or farther away.
   *[floor] {" "}The ruler lies on the floor beside the aim line (dashes) and counts from where the driven axle stood in picture 1.
}
number-off-line = { $side ->
    [left] off line at the end of the view, to the left
   *[right] off line at the end of the view, to the right
}
number-heading = { $side ->
    [left] off line in its heading at the start, to the left
   *[right] off line in its heading at the start, to the right
}
number-skew = { $side ->
    [left] axles askew, steering to the left
   *[right] axles askew, steering to the right
}
rulers-said-unseen = The car went { $car }. How far its rim turned is not observable: { $why }.
rulers-said-spun = The car went { $car }; its rim turned { $rim }. The gap of { $gap } was wasted in wheelspin.
rulers-said = The car went { $car }; its rim turned as far: at most { $mm } mm were wasted in wheelspin.
rulers-rim = rim turned { $way }
rulers-car = car went { $way }
rulers-gap = wasted in wheelspin { $way }

## The annotated clip

panel-rest = at rest
panel-powered = pulling
panel-coast = coasting
panel-stopped = stopped
panel-rolling = rolling
panel-slip = slip { $slip }
panel-rim = rim
panel-car = car
panel-no-speeds-1 = no speeds: the clip's
panel-no-speeds-2 = frame rate is not known

## Why there is no poster

why-poster-camera = the camera moved, and too few floor marks were in view to lay its frames over each other
why-poster-car-unplaced = no two frames show the car in a known place
why-poster-hardly-moved = the car moved by less than a fifth of its own length while in view
why-poster-car-unseen = the car could not be told from the floor behind it

## Key frames

moment-slip = largest slip, { $slip }
moment-release = release
moment-first = first frame with the car
moment-pull-ends = end of the pull
moment-view-ends = end of the view
moment-farthest = farthest off line, { $mm } mm { $side ->
    [left] left
   *[right] right
}
moment-on-the-way = on the way
still-alt = Frame at { $time }: { $caption }.
still-alt-car = Frame at { $time }: { $caption }. The car goes { $car } m/s.
still-alt-rim = Frame at { $time }: { $caption }. The car goes { $car } m/s, its rim { $rim } m/s.
film-key = Pink circle and line: the sticker and its trail. Green diamond and dots: the wheel mark, one dot a frame. Orange triangle: the axle mark, where there is one. Yellow dashes: the aim line on the floor. White arrow: where the car heads. Colours are those of the printed kit, whatever the marks are made of.

## Summary in the terminal

said-verdict = Verdict for { $car }: { $verdict }
said-undetermined = Verdict: undetermined
said-also = also: { $causes }
said-brackets = (in brackets: the interval that holds the true value in 95 of 100 cases)
said-try = Try:
said-seen-by = Seen by: { $view }
said-note = note: { $note }
said-no-speeds = No speeds and no times are stated: { $doubt }
second-not-used = Second view not used: { $why }
second-gave = From the second view: { $what }
second-gave-nothing = From the second view: nothing, the first view sees everything better
second-aligned = { $by ->
    [sound] lined up by the snap of the spring in both sound tracks to within { $ms } ms
   *[motion] lined up by the first motion in both pictures to within { $ms } ms
}
second-aligned-checked = { $by ->
    [sound] lined up by the snap of the spring in both sound tracks to within { $ms } ms; sound and first motion differ by { $residual } ms
   *[motion] lined up by the first motion in both pictures to within { $ms } ms; sound and first motion differ by { $residual } ms
}
second-not-compared = the speeds of the two clips could not be compared to see that they show the same run
track-no-wheel-mark = nothing in the wheel mark's colour goes round with the sticker; the wheel's turn is not observable
track-sticker-still = something in the sticker's colour was found that never moved; is that the sticker?
track-sticker-lost = the sticker was lost at { $at } s, in the middle of the picture and on its way: what is said of the end of the view is said of that moment; use a larger sticker or better light, or film nearer
track-several-moving = { $others ->
    [one] { $others } more thing in the sticker's colour moved
   *[other] { $others } more things in the sticker's colour moved
}; the one taken drives away farther and faster or has a wheel mark that goes round (`at_px` and `at_s` under [sticker] in the run sheet point at another)
view-moving = a camera that moved and was followed by { $marks } floor marks, which fit within { $px } px
view-still = a camera placed by { $marks } floor marks, which fit within { $px } px
view-plain = { $from ->
    [floor] a plain scale from the distance between floor marks; sideways motion is not observable
    [circle] a plain scale from the circle of the wheel mark; sideways motion is not observable
   *[rolling] a plain scale from the turns of the rolling wheel; sideways motion is not observable
}
view-pixels = pixels only: nothing in view has a known size, so nothing is stated in metres

## Report: the page

report-title = { $car }: { $cause } - run report
report-kicker = Run report · { $car }
report-to-big = Show large, for a projector
report-worksheet = Worksheet for the write-up
report-no-speeds = No speeds and no times are stated:
report-because = What shows it
report-verdict = Verdict:
report-also = Counts as well: { $causes }.
report-brackets = In brackets: the interval that holds the true value in 95 of 100 cases.
report-try = What to try
report-change = Changed since the run before: { $change }
report-whole = The whole run in one picture
report-whole-alt = The car several times in one picture, numbered in order of time. { $rulers }
report-strip = { $count ->
    [one] The run in { $count } frame
   *[other] The run in { $count } frames
}
report-energy-fine = Of the energy that was found; what spun the wheels themselves is not among it. In brackets each part at one end of its interval with the others at the opposite ends.
report-clip = The annotated clip
report-clip-label = The run with what was measured drawn into it; its numbers are in the charts and tables of this page
report-clip-plays = Plays
report-clip-where = , which lies in the same folder as this page.
report-clip-gone = It is not there now: this page was passed on without it. Everything else is on the page.
report-clip-none = No annotated clip was written with this page.
report-charts = What happened
report-charts-help = Point at a chart, or move to it with the tab key and use the arrow keys, to read values and see the frame.
report-behind = Numbers behind “{ $title }”
report-rows = { $rows } of { $frames } frames; all are in frames.csv
report-results = Results
report-results-what = all quantities with their intervals
report-results-caption = Each with its 95 % interval
report-results-names = ; in small letters its name in summary.json
report-quantity = Quantity
report-value = Value
report-interval = 95 % interval
report-costs = What each cause cost
report-costs-caption = A cause counts from { $mm } mm, or from { $share } % of the way if that is more
report-cause = Cause
report-travel = Travel lost
report-off-line = Off line at the end
report-until-stop = until the car stands
report-after = after { $metres } m
report-unseen = What was not observable, and why
report-unseen-none = Every quantity could be observed in this clip.
report-method = How it was measured
report-method-what = camera, marks, clip and where the intervals come from
report-words = Ten words
report-words-what = what the words on this page mean
report-cautions = Cautions
report-close = Close
report-big-between = { $meaning } (between { $between })
report-try-first = Try first:

## Report: what its script says

script-frame = frame
script-time = time
script-to = to
script-not-seen = not seen
script-not-reading = not reading yet; use the arrow keys

## Report: in other words

plain-slip = Where the wheels slipped most, { $wasted }.
plain-curve = The path is { $circle }.
plain-wasted = { $value } of every 100 mm ({ $low } to { $high }) that the rim turned were wasted
plain-wasted-most = at most { $high } of every 100 mm that the rim turned were wasted
plain-straight = straight, or a circle of radius { $metres } m or more
plain-circle = a circle of radius { $radius } m ({ $low } to { $high }) to the { $side ->
    [left] left
   *[right] right
}
energy-rubbed = rubbed away under spinning wheels
energy-moving = in the car’s motion at the end of the pull
energy-rolling = taken by rolling and air during the pull
energy-headline-rubbed = { $share } of the pull’s energy rubbed away under the wheels
energy-headline-moving = { $share } of the pull’s energy went into the car’s motion
energy-share = { $value } % ({ $low } to { $high } %)

## Report: charts

chart-missing = Not observable: { $why }.
chart-unseen = not seen
chart-frame = frame
chart-time = time in the clip, s
chart-time-head = time, s
chart-frames = frame of the clip
chart-release = release
chart-pull-ends = pull ends
chart-speed = Speed of the car and of the wheel’s rim
chart-speed-axis = speed, m/s
chart-speed-clock = the clip's clock is in doubt
chart-car = car
chart-rim = rim
chart-gap = gap: slip
chart-speed-peak = The car reached { $peak }.
chart-speed-peak-unseen = The highest speed is not observable: { $why }.
chart-speed-spun-unseen = How much was spun away is not observable: { $why }.
chart-speed-together = The lines lie together: no travel was surely spun away ({ $value }, { $interval }).
chart-speed-gap = The shaded gap is distance wasted in wheelspin: { $gap } in all.
chart-speed-no-rim-why = No rim speed: { $why }.
chart-speed-no-rim = No rim speed was seen.
chart-slip = Slip ratio
chart-slip-axis = slip ratio
chart-slip-slow-rim = the rim never went faster than { $speed } m/s
chart-slip-most = Largest under power: { $slip }.
chart-slip-most-unseen = The largest slip under power is not observable: { $why }.
chart-slip-means = At 0 the wheel rolls, at 1 it spins on the spot; below a rim speed of { $speed } m/s it is undefined.
chart-slip-means-slow = At 0 the wheel rolls, at 1 it spins on the spot; while the rim is slow it is undefined.
chart-path = Path seen from above
chart-path-no-frame = no frame shows it
chart-path-x = along the aim line, m
chart-path-x-head = along the line, m
chart-travel = travel of the car, m
chart-travel-head = travel, m
chart-path-y = right (−)  mm off line  (+) left
chart-path-series = left of the aim line
chart-path-fit = fitted curve
chart-path-fit-alone = fitted steady curve alone
chart-path-aim = aim line
chart-path-end = At the end of the view the car was { $off } { $side ->
    [left] left
   *[right] right
} of the aim line.
chart-path-end-on = At the end of the view the car was on the aim line as far as this view can tell: { $off }.
chart-path-end-unseen = Its end off the line is not observable: { $why }.
chart-path-curved = It curved to the { $side ->
    [left] left
   *[right] right
} ({ $curve }; { $interval }), as axles { $skew } out of square would make it.
chart-path-curved-unseen = It curved to the { $side ->
    [left] left
   *[right] right
} ({ $curve }; { $interval }); the skew of the axles is not observable: { $why }.
chart-path-curve-unseen = A steady curve is not observable: { $why }.
chart-path-no-curve = No steady curve is certain.
chart-path-sway = It swayed by { $sway } to either side, in step with the driven wheel.
chart-path-sway-other = It swayed by { $sway } to either side, not in step with the driven wheel.
chart-path-stretch = Sideways is drawn { $times } times larger than along.
chart-turns = Turns of the wheel against travel
chart-turns-axis = turns of the wheel
chart-turns-series = turns
chart-turns-wheel = wheel
chart-turns-rolls = a wheel that rolls
chart-turns-made = The wheel made { $turns } while the car went { $way }.
chart-turns-unseen = Turns for the whole way are not observable: { $why }.
chart-turns-would = Rolling all the way it would have made { $turns }.
chart-turns-line = The line is straight where the wheel rolls and steeper where it spins.

## Report: how it was measured

method-no-name = a clip without a name
method-camera = Camera
method-camera-note = { $view }. Note: { $note }
method-marks = Marks seen
method-marks-words = sticker in { $sticker } and wheel mark in { $wheel } of { $frames } frames; { $patches } patches lay still on the floor
method-frames = Frames
method-frames-unknown = { $count }; times { $clock }
method-frames-words = { $count }; times from { $clock }
method-frames-rate = { $count }, usually { $middle } ms apart ({ $least } to { $most }): { $rate } a second; times from { $clock }
method-residuals = Residuals
method-residuals-sticker = the sticker is off by { $px } px (root mean square) from the smoothed path
method-residuals-both = the sticker is off by { $px } px (root mean square) from the smoothed path, the wheel mark { $off } mm from its circle of { $circle } mm
method-radius = Rolling radius
method-radius-coast = { $radius } mm, from { $over } m of coasting in this clip
method-radius-sheet = { $radius } mm, half of the diameter in the run sheet
method-intervals = Intervals
method-intervals-words = 95 %: value ± coverage factor × standard uncertainty (GUM, JCGM 100); sizes, lens and floor marks by { $draws } Monte Carlo draws, what differs from frame to frame by the smoothers’ own variances, added in squares; slip is 1 − v / (ω R), undefined below a rim speed of { $speed } m/s
method-sources = Where the intervals come from
method-sources-words = largest share of the variance, { $list }
method-source = { $what }: { $share } % { $input }
method-source-speed = highest speed
method-source-slip = largest slip
method-source-spun = distance wasted in wheelspin
method-source-off-line = distance off line
method-source-curve = curvature
method-shapes = Rival shapes of the path
method-shapes-words = weights from 0 to 1: steady curve { $curve }, turning while the wheel spins { $yaw }, sway with the driven wheel { $driven }, sway at another rate { $other }
method-clip = Clip
method-clip-words = { $name }, { $width } × { $height } px, { $codec } in { $pixels }, { $bits } bits a sample, SHA-256 { $sha }
method-second = Second view
method-second-words = { $name }, SHA-256 { $sha }. { $said }
method-notes-clip = Notes on the clip
method-notes-doubts = Worth a second look
method-notes-assumed = Taken for lack of a size in the run sheet
method-tool = Measured with
method-tool-words = gripline { $version }; every frame’s values are in frames.csv, all quantities in summary.json
clock-file = the file's own frame times
clock-unknown = not known: { $doubt }
clock-sheet = slow motion: the run sheet says it was taken at { $fps } frames a second, so the file's times were divided by { $slowed }
clock-clip = slow motion: the clip says it was taken at { $fps } frames a second, so its times were divided by { $slowed }

## What was taken for lack of a size

assumed-length = { $what } is not in the run sheet; { $mm } mm give or take { $give } mm was taken
assumed-half-wheel = half the wheel diameter
assumed-ahead = how far the sticker sits ahead of the driven axle is not in the run sheet; places are the sticker's own
assumed-string = the string's thickness (`string_diameter_mm`) is not in the run sheet; { $mm } mm give or take { $give } mm was taken
assumed-side = the side that faces the camera is not in the run sheet; right was taken
assumed-misfit = the floor marks fit the places in the run sheet no better than { $mm } mm, which widens the intervals: measure them again, and see that nothing hides a part of one
assumed-no-plan-mark = marks were seen that have the shape of the kit's floor plan, but by it { $why }: the plan was not taken; write [[floor_mark]] with the places where the marks lie
assumed-no-plan-wheel = marks were seen that have the shape of the kit's floor plan, but laid in its size they would make the driven wheel { $rolls } mm instead of the { $sheet } mm of the run sheet: the plan was not taken; write [[floor_mark]] with the places where the marks lie
kit-whole-sheet = there is no run sheet: sizes of an ordinary car were taken, and the intervals are as wide as cars differ
kit-sticker-colour = the colour of the sticker is not in the run sheet; the kit's { $colour } was taken
kit-wheel-mark-colour = the colour of the wheel mark is not in the run sheet; the kit's { $colour } was taken
kit-axle-mark-colour = the colour of the axle mark is not in the run sheet; the kit's { $colour } was taken
kit-floor-mark-colour = the colour of floor marks is not in the run sheet; the kit's { $colour } was taken
kit-end-sticker-colour = the colour of the sticker for the second phone is not in the run sheet; the kit's { $colour } was taken
kit-wheel-mark = the run sheet names no wheel mark; a { $colour } mark that circles with the car, as the kit has one, was taken for it
kit-floor-plan = the run sheet names no floor marks; { $colour } marks of the kit's size that fit the kit's plan were seen and taken to lie on it: { $length } mm by { $width } mm, diagonals { $diagonal } mm, the start in the middle of a short side

## What looks odd on the run sheet

doubt-size = `{ $written }` is unusual; { $usual ->
    [between] usual are { $low } to { $high }{ $unit }
   *[at-most] usual is at most { $high }{ $unit }
}; { $instead ->
    [none] measure it again
   *[other] did you mean { $instead }?
}
doubt-turns = `string_mm = { $string }` on an axle of `axle_diameter_mm = { $axle }` would be { $turns } turns: measure both again
doubt-same-colour = the { $mark } and the { $other } are both { $colour }: one may be taken for the other; { $better } would be better for the { $other }
doubt-near-colour = the { $mark } is { $colour } and the { $other } { $othercolour }, colours { $apart } degrees apart where lamps and paints ask for 40: one may be taken for the other; { $better } would be better for the { $other }
mark-sticker = sticker
mark-wheel = wheel mark
mark-axle = axle mark
mark-floor = floor mark
colour-magenta = magenta
colour-red = red
colour-orange = orange
colour-yellow = yellow
colour-green = green
colour-cyan = cyan
colour-blue = blue
colour-purple = purple

## What was wrong with the file

damage-truncated = { $bytes ->
    [one] the file is cut short: { $bytes } byte missing at its end
   *[other] the file is cut short: { $bytes } bytes missing at its end
}
damage-packets = { $count ->
    [one] { $count } packet of the picture could not be decoded
   *[other] { $count } packets of the picture could not be decoded
}
damage-spoilt = { $count ->
    [one] { $count } frame spoilt by broken data, left out
   *[other] { $count } frames spoilt by broken data, left out
}
damage-untimed = { $count ->
    [one] { $count } frame without a time, left out
   *[other] { $count } frames without a time, left out
}
damage-unordered = { $count ->
    [one] { $count } frame not later than the one before, left out
   *[other] { $count } frames not later than the one before, left out
}
damage-late = { $count ->
    [one] { $count } frame over a day after the first, left out
   *[other] { $count } frames over a day after the first, left out
}
damage-changed = { $count ->
    [one] { $count } frame of another size or pixel format, left out
   *[other] { $count } frames of another size or pixel format, left out
}
damage-fewer = the file promises { $promised } frames but only { $decoded } could be decoded
damage-repeated = the file's edit list repeats part of the recording, so its times are not the car's
damage-cut = the file's edit list cuts out part of the recording, so time jumps where it was
damage-speed = the file's edit list plays part of the recording at { $rate } times its speed
damage-pixels = the file says that its pixels are not square (width over height { $ratio })

## What the user should know of the files

note-no-poster = no poster: { $why }
demo-says = A run of the makers' club on Harbour Street, drawn from known motion:
place-results = Results: { $path }
place-clip = Annotated clip: { $path }
place-report = Report: { $path }
place-poster = Poster: { $path }
size-unit-length = {" "}millimetres
size-unit-mass = {" "}grams
size-unit-force = {" "}newtons
size-unit-short-time = {" "}milliseconds
size-unit-angle = {" "}degrees
size-unit-frame-rate = {" "}frames per second
size-unit-pixels = {" "}pixels
size-unit-time = {" "}seconds
size-unit-none = {""}
note-no-sound = the annotated clip has no sound: { $why }
note-sound-slow = sound is kept at full speed only
note-sound-form = its sound is in a form that MP4 files do not hold
note-sound-unread = its sound could not be read
note-no-h264 = no H.264 encoder is installed: the annotated clip is MPEG-4 part 2, which some browsers do not play
