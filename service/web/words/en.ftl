# Everything the pages say, in English. Names in braces are filled in; the unit stands in the words.

house = Wattwright
skip = Skip to the page
pages = Pages
page-season = Season
page-shows = Shows
page-find = Find
page-shelf = Shelf
page-cutting = Cutting
page-paper = Paper
look = Screen brightness
look-day = Day
look-night = Night
look-red = Red
as-of = As of { $day }
offline = No connection. Kept on this device { $at }. It may have changed since. Nothing can be sent from it.
stalled = No answer from the house. Kept on this device { $at }. It may have changed since. Nothing can be sent from it.
unsent = Not sent: there is no connection. What you typed is still here; send it again when there is one.
unanswered = No answer from the house. What stands here may not be what you asked for.
more = More
settings = Units, name
help = What each limit means

elements = { $count ->
    [one] 1 element
   *[other] { $count } elements
}
runs = { $count ->
    [one] 1 run
   *[other] { $count } runs
}
channels = { $count ->
    [one] Channel
   *[other] Channels
}

find-title = Find a feed
find-head = What has gone dark?
find-label = Element, place, tag, label number or address
find-place = Name, place, tag or 3/53
find-button = Find
find-instead = Nothing called “{ $typed }”. This is for “{ $instead }”.
find-none = Nothing called “{ $typed }”. Try the tag, part of the name, where it is on the set, or an address such as 3/53.
find-count = { $count ->
    [one] 1 found
   *[other] { $count } found
}
find-most = The first { $count }. Type more to narrow it down.
find-tonight = On stage: { $show }
find-nothing-on = No show is on stage today. Everything in the store can still be found by its tag or name.
find-no-feed = no feed
find-another = Find another
place-find = What is here
kind-element = element
kind-supply = supply
kind-decoder = decoder
kind-battery = battery
kind-enclosure = box
kind-outlet = outlet
kind-reel = reel
kind-place = place
kind-show = show

feed-unfit = { $tag } is on record as { $state }
feed-supply = Supply
feed-battery = Battery
feed-output = Output
feed-here = It is here
feed-where-unknown = Nobody has said where it stands
feed-decoder = Decoder
feed-straight = No decoder: straight on the output
feed-address = Address
feed-no-address = not set
feed-beside = Beside the supply
feed-runs = For { $runs }
feed-note = Note: { $text }
feed-dark-since = Dark since { $day }: { $what }
feed-first = Go to first
feed-pull = If you pull it
feed-pull-none = Nothing else is on output { $output }.
feed-pull-output = Output { $output } also feeds:
feed-pull-all = Pull all of { $supply } and these go too:
feed-found = Say what you found
feed-swaps = Put another in its place
feed-swap = Swap { $tag }
feed-works = It works again
feed-way = From the outlet to the tape
feed-outlet = Outlet
feed-outlet-unknown = not said
feed-load = { $load } of { $limit }
feed-load-unknown = { $load }; its limit is not known
feed-over = { $excess } too much
feed-locked = Locked: the planner leaves this feed alone.
feed-override = Put over a limit by hand: { $why }
feed-lead = Lead
feed-tape = Tape
feed-none = No feed yet
feed-none-why = It is on the list, but nothing feeds it.
feed-no-plan = No feeds of { $show } are kept yet.
feed-history = What happened to it
feed-history-none = Nothing is on record yet.

found-despite = seen where it stands
found-title = What did you find?
found-choice = What it does
found-out = It is out
found-flicker = It flickers
found-colour = A colour is missing
found-dim = It is dim or brown at the far end
found-words = In your words
found-by = Your name
found-button = Write it down
found-done = Written down for { $tag }. The next crew sees it on the dark list.
again-title = That is written down already
again-add = What you said differs. Add it as a note?
again-button = Add it as a note
again-back = Back to { $tag }
again-noted = Your note is with it now.
again-works = It was down as working already.
works-seen = seen to work
works-not-mend = Say on its own page how it stands.

refused-title = That was not done
refused-missing = That is not on record
refused-nowhere = there is no page at { $path }
refused-nowhere-mend = Begin at Find, or look the thing up by its name, place or tag.
refused-mend = What to do
mend-list = Look for it in the list of { $kind }.
refused-back = Go back
refused-row = Row { $row }
refused-go-back = Go back, correct it and send it again.
refused-only-form = { $path } only takes what a form sends
refused-only-form-mend = Go to the page that the form stands on, fill it in and send it from there.
refused-no-form = { $path } is a page to read, and takes nothing that is sent
refused-no-form-mend = Go to the page itself.
refused-belongs = Go to that page
refused-too-large = that is larger than the { $most } MB that are taken at once
refused-too-large-mend = Send less: a file at a time, or a long sheet in two parts.
refused-broken = what the form sent arrived broken
refused-broken-mend = Go back, load the page anew and send it again.
refused-gate = that was not let in: { $why }
refused-gate-mend = Open the page on the machine that Wattwright runs on, by its own address, and begin there.
refused-other = that cannot be answered
refused-other-mend = Begin at Find, and go from there.
refused-fault-title = Something went wrong here
refused-fault = something unforeseen happened; it is in the service's log under { $reference }
refused-fault-mend = Try again. If it stays, tell whoever looks after Wattwright, with that reference.

refused-no-file = there is no file { $name }
refused-no-file-mend = Load the page again.
refused-no-batch = that sheet is no longer at hand; nothing of it was written
refused-no-batch-mend = Choose the file again. What you had matched is matched anew from its heads.
refused-no-choice-of-file = no file was chosen
refused-no-choice-of-file-mend = Choose a workbook or a CSV file, then look at it.
refused-many-files = { $count } files are too many at once
refused-many-files-mend = Send at most { $most }.
refused-no-sheet = there is no sheet “{ $sheet }”
refused-no-sheet-mend = Choose one from the list.
refused-batch-past = nothing is on record of that batch: it came in more than a week ago, or never
refused-batch-past-mend = See what came in lately under “Bring in a sheet”, or choose the file again: rows that are on record already are told from new ones.
refused-no-table = there is no such table
refused-no-table-mend = Go back to the preview.
refused-no-show = no show has the code { $code }
refused-no-show-mend = Choose one from the list of shows.
refused-no-paper = there is no paper { $name }
refused-no-paper-mend = Choose one from the list of papers.
refused-no-layout = this machine has nothing that lays pages out
refused-no-layout-mend = Have somebody run `apt-get install { $libraries }` on it and start the service again; until then print the page itself.
refused-no-choice = { $choice } is none of the choices
refused-no-choice-mend = Go back and choose one of them.
refused-no-kind = nothing of the kind { $kind } is added by hand
refused-no-kind-mend = Choose one of the kinds under “Add something”.
refused-no-number = { $tag } is no number of { $kind }
refused-no-number-mend = Go back to the list and choose one.
refused-other-show = { $tag } is not in this show
refused-other-show-mend = It is in { $show }.
refused-other-kind = { $tag } is a { $kind }
refused-other-kind-mend = Begin at its own page: look it up by its tag.

# What is wrong with something that was typed or asked: the field's name stands before it
given-mend = Correct it and send it again.
given-missing = this is missing
given-too-long = at most { $max-length } characters are taken
given-too-short = { $min-length ->
    [one] this is blank
   *[other] at least { $min-length } characters are needed
  }
given-no-tag = only letters, digits and . _ + - are taken, a letter or a digit first
given-no-text = text is needed
given-no-whole-number = a whole number is needed, such as 3
given-no-number = a number is needed, such as 1.5
given-no-yes = yes or no is needed
given-no-day = a day is needed, such as 2026-11-25
given-not-above = more than { $gt } is needed
given-too-small = { $ge } is the least that is taken
given-not-below = less than { $lt } is needed
given-too-great = { $le } is the most that is taken
given-too-few = { $min-length ->
    [one] at least one is needed
   *[other] at least { $min-length } are needed
  }
given-too-many = at most { $max-length } are taken at once
given-no-choice = one of these is needed: { $expected }
given-unknown = this is not asked here
given-odd = this cannot be read
given-the-base = the address on the labels
given-the-choice = what it does
given-the-code = the show
given-the-done = what was done
given-the-effort = how hard to look
given-the-file = the file
given-the-found = what was found
given-the-found-mm = the length found, in mm
given-the-kept = what was kept
given-the-kind = the kind
given-the-length-mm = the length, in mm
given-the-line = the line of the order
given-the-look = the look
given-the-lot = the lot
given-the-may-buy = whether tape may be bought
given-the-mend = whether to mend what is kept
given-the-name = your name
given-the-new = the spare's tag
given-the-note = the note
given-the-number = the number
given-the-of = the tag that you came from
given-the-offcut-tag = the offcut's tag
given-the-order = the order's number
given-the-page = the page of the list
given-the-pitches = the cut pitches left
given-the-place = the place
given-the-plural = the kind
given-the-productions = the shows
given-the-q = what to look for
given-the-quantity = the quantity
given-the-received-on = the day it came
given-the-reel = the reel's tag
given-the-revision = the revision
given-the-sheet = the label sheet
given-the-show = the show
given-the-since = the day since when
given-the-skip = the labels to skip
given-the-state = the state
given-the-step = the cut
given-the-tag = the tag
given-the-tags = the tags
given-the-units = the units
given-the-what = what to print
given-the-why = the reason
given-the-words = your words

wishes-title = How pages look on this device
wishes-units = Units
wishes-metric = metres and millimetres, °C
wishes-us = feet and inches, °F
wishes-name = Your name, for the record
wishes-name-why = It stands beside what you write down. Nobody has to prove it yet.
wishes-keep = Keep

kept-title = Feeds on stage
kept-made = As it stood { $at }.
kept-none = Nothing that is kept has all these words. Try fewer of them, or the tag.
kept-filter = Name, place, tag, supply or decoder
kept-take = Take it away as one file
away-title = No connection
away-why = This page is not kept on this device. What feeds the shows on stage is.
away-again = Try again
unsent-title = Not sent
unsent-why = There is no answer from the house. What you typed is kept here. It may have arrived all the same: where that matters, look before you send it again.
unsent-again = Send it again
unsent-file-why = There is no answer from the house, and a file is not kept here: choose it again when there is an answer. It may have arrived all the same: where that matters, look before you send it again.
unsent-file-again = Choose the file again
kept-forget = Forget what this device kept
kept-forget-why = Before you hand the phone on:

thing-dark = Pull { $tag } and these go dark
outlet-amps-ok = { $load } of { $limit }
outlet-amps-watch = { $load } of { $limit }: look here
outlet-amps-unknown = { $load } of { $limit }; not all is known
outlet-amps-wrong = { $load } of { $limit }, and something is wrong
outlet-amps-over = { $load } of { $limit }: too much
outlet-amps-no-volts = its volts are not known, so its amps are not either
thing-dark-none = Nothing hangs on it in a plan that is kept.
thing-part = in part
thing-record = On record
thing-change = Change it

load = Load
load-unknown = its limit is not known
load-over = { $excess } too much
load-left = { $left } left
as-table = The same as a table
unit-carries = It carries { $load } of { $limit } that we let it carry.
unit-carries-unknown = It carries { $load }.
unit-where = Where it is
unit-has = Who has it
unit-with = { $show }, until { $day }
unit-with-open = { $show }
unit-with-late = { $show }: due back { $day }, { $days ->
    [one] a day late
   *[other] { $days } days late
}
unit-in = Nobody: it is in
unit-bin = Its place
unit-seen = Last seen
unit-noted = Noted
unit-stands = It stands at { $place }.
decoder-fed = fed by { $supply } output { $output }
decoder-channels = What each channel carries
decoder-free = nothing on it
decoder-whole = All together
decoder-bank = Bank { $bank } together
decoder-amps-over = { $load } of { $limit }: { $excess } too much
decoder-amps-tight = { $load } of { $limit }: nearly full
decoder-amps-ok = { $load } of { $limit }
unit-rated = Rated { $rated }.
unit-outlet = Outlet { $outlet }.
unit-box = In the box { $box }.
unit-feeds = What it feeds
unit-loads = What it carries
unit-loads-key = Upright: the most we let it carry. Faint stripes beyond: kept in hand. Heavy stripes: over. Each bar is to a scale of its own.
unit-output = Output { $number }
unit-amps = { $load } of { $limit }
unit-amps-unknown = { $load }; its limit is not known
unit-swap-in = Swap { $tag } in { $show }
unit-volts = Volts along { $run }, its longest run
unit-volts-note = All emitters at full. The drop of decoders, connectors and joints is not counted, so the truth is a little lower.

season-enough = Nothing is short
season-unknown = No show is on record yet
season-unknown-why = Once there is one, this says what runs short, when, and who has it.
season-enough-why = Every show has what it wants, on every day that is known.
season-short = { $item } runs { $short } short from { $day }
season-short-now = { $item } is { $short } short today
season-count = { $count ->
    [one] 1 thing runs short
   *[other] { $count } things run short
  } in the days that are known. { $now ->
    [0] Nothing is short today.
    [one] 1 of them is short today.
   *[other] { $now } are short today.
  }
season-key = Striped bar: gear wanted before the first night. Solid: in front of an audience. Open: not yet back. The heavy line is what there is, what is due in counted; a striped block above it is what is missing.
season-none = Add a show, or bring your sheets in: what each wants is counted against what there is.
season-bring = Bring in a sheet
season-over = Every show on record is over.
season-sort = To sort out, the earliest first
season-line = { $item }: { $short } short
season-clears = clears { $day }
season-stays = and it does not clear
season-wants = Wanted by { $who }; there are { $there }, { $due } due in.
season-move = This removes it:
season-helps = This helps:
season-or = Or this:
season-too = Together with this:
season-no-move = No other date clears it. This does:
season-get = { $amount } more { $item }, bought, hired or lent
season-get-lot = { $amount } more of lot { $lot }, bought or lent
season-take-back = take { $tags } back from { $who }
season-clashes = Wanted twice, or overdue
season-twice = { $tags } tags that both { $first } and { $second } have
season-overdue = { $tags }: { $days } days overdue from { $who }
season-hurts = hurts { $who }
season-drawn = Shows, and what is wanted of each thing beside what there is.
season-most = at most { $most } wanted, { $there } there.
season-at-most = { $most } wanted at most
season-there = { $there } there
season-short-word = short
season-today = today

# Paper
page-labels = Labels
page-bring-in = Bring in a sheet
paper-feed-sheet = Feed sheet
paper-feed-sheet-for = Supply by supply: what hangs on each output, its load and its fuse
paper-address-sheet = Address sheet
paper-address-sheet-for = Universe by universe: which slot is which colour of what
paper-lead-list = Lead list
paper-lead-list-for = Every lead to make: wire, metres, fuse, volts lost
paper-cut-list = Cut list
paper-cut-list-for = Reel by reel: what to cut where, and what to write on it
paper-take-list = Take list
paper-take-list-for = Bin by bin: what goes out, where it is to stand, what cannot go yet and why
paper-return-list = Return list
paper-return-list-for = What is out and is to come back, how late it is, who is to have it next
paper-order-list = Order list
paper-order-list-for = What to buy or to hire, and by when; reels are counted cut by cut
paper-stocktake-sheet = Stocktake sheet
paper-stocktake-sheet-for = What is still to count or to look for, and what was found otherwise
paper-half-hour-check = Half-hour check
paper-half-hour-check-for = A walk before the house opens: what should light up, and where the spare lies
paper-battery-sheet = Battery sheet
paper-battery-sheet-for = Every pack: who wears it, what it is asked for, whether it lasts
paper-dark-list = Dark list
paper-dark-list-for = What is out now, since when, and who said so
paper-changes = Changes
paper-changes-for = What moved since the last print
paper-label-changes = Leads to label anew
paper-label-changes-for = Labels that no longer say what they should
paper-of = Paper for { $show }
paper-shows = Shows
paper-of-house = For the whole house
paper-on-stage = On stage { $from } to { $to }
paper-no-show = There is nothing to print yet
paper-no-show-why = Papers are made of a show and what feeds it. Bring your sheets in first: venues, tapes, supplies, decoders, shows and elements.
paper-last = Last print: number { $number }, { $paper }, { $at }.
paper-moved = { $count ->
    [one] One thing moved since.
   *[other] { $count } things moved since.
}
paper-unmoved = No feed moved since.
paper-untouched = Nothing was put on record since.
paper-touched = Things were put on record since; it may read otherwise now.
paper-print-of = Print { $number }, { $at }.
paper-since = Changes since print { $number }
paper-stood = As of { $day }, as it stood at { $at }.
paper-unprinted = Nothing of it was printed yet.
paper-revision = Print number { $number }.
paper-print-now = Print it from your browser’s menu, if it did not offer to.
paper-unnumbered = Not a numbered print.
paper-workbook = Workbook
paper-csv = CSV
paper-pdf = PDF
paper-print = Print
since-label = Since
since-place = print:3, plan:2 or 2026-11-20
since-button = Show
load-of = { $load } of { $limit }, { $share } %
at-outlet = outlet { $outlet }
limit-unknown = Its limit is not known
supply-said = { $said }
watts-over = { $excess_w } too much
watts-left = { $left_w } left
outputs-over = { $count ->
    [one] Output { $outputs } carries too much
   *[other] Outputs { $outputs } carry too much
}
no-feed = No feed yet
no-address = No address yet
no-gauge = Nobody said which wire
where-unknown = Nobody said where
slots-used = slots up to { $last }, { $hz } times a second at most
leads-of = { $leads ->
    [one] 1 lead, { $wire_m }
   *[other] { $leads } leads, { $wire_m }
}
cores = { $count ->
    [one] 1 core
   *[other] { $count } cores
}
ends-one = at one end
ends-both = at both ends
ends-middle = in the middle
looks = { $colours }
looks-at = { $colours }, begins at { $level } %
looks-on = { $colours }, straight on
dies-at-minute = minute { $minute }, { $stretch }
row-mend = Put it right: { $mend }
no-fuse-fits = none fits
verdict-over = over
verdict-tight = look at it
verdict-none = not known
moved-added = New
moved-gone = Gone
moved-tape = Other tape
moved-length = Other length
moved-place = Stands elsewhere
moved-lead = Lead to make anew
moved-fed = Fed now
moved-dark = No longer fed
moved-moved = Fed from elsewhere
moved-address = Other address
moved-stands = Gear that stands elsewhere
moved-load = Loads that changed

feed-sheet-over = { $over ->
    [one] { $first } is over a limit
   *[other] { $over } supplies are over a limit
}
feed-sheet-dark = { $dark ->
    [one] One element has no feed yet
   *[other] { $dark } elements have no feed yet
}
feed-sheet-fine = { $supplies ->
    [one] The one supply is within what it may carry
   *[other] All { $supplies } supplies are within what they may carry
}
feed-sheet-none = Nothing is fed yet
address-sheet-over = { $over ->
    [one] One channel or address is wrong
   *[other] { $over } channels or addresses are wrong
}
address-sheet-missing = { $missing ->
    [one] One channel has no address yet
   *[other] { $missing } channels have no address yet
}
address-sheet-fine = { $slots } channels in { $universes ->
    [one] one universe
   *[other] { $universes } universes
}, none of them twice
address-sheet-none = Nothing listens to an address yet
lead-list-over = { $over ->
    [one] One lead is too thin, too long or without a fuse that fits
   *[other] { $over } leads are too thin, too long or without a fuse that fits
}
lead-list-blank = { $blank ->
    [one] One lead was not measured yet
   *[other] { $blank } leads were not measured yet
}
lead-list-fine = { $leads } leads, { $wire_m } of wire
lead-list-none = There are no leads to make
cut-list-some = { $cuts ->
    [one] One cut to make
   *[other] { $cuts } cuts to make
} from { $reels ->
    [one] one reel
   *[other] { $reels } reels
}
cut-list-unplanned = There are pieces to cut, and no plan of cuts is kept
cut-list-fine = Nothing is left to cut
take-list-stuck = { $stuck ->
    [one] One thing cannot go yet
   *[other] { $stuck } things cannot go yet
}; { $count } to take
take-list-due = { $due ->
    [one] One piece should be out already; nobody wrote that it went
   *[other] { $due } pieces should be out already; nobody wrote that they went
}
take-list-some = { $count ->
    [one] One piece to take
   *[other] { $count } pieces to take
}
take-list-gone = { $gone ->
    [one] The one piece has gone out
   *[other] All { $gone } pieces have gone out
}
take-list-none = Nothing is to go out
bin-unknown = Nobody said in which bin
gone-already = Gone out already
of-show = for { $show }
pieces-of = { $count ->
    [one] 1 piece
   *[other] { $count } pieces
}
return-list-late = { $late ->
    [one] { $first } is { $days ->
        [one] one day
       *[other] { $days } days
    } late
   *[other] { $late } things are late, { $first } by { $days ->
        [one] one day
       *[other] { $days } days
    }
}
return-list-struck = { $struck ->
    [one] One thing is out though its show is struck
   *[other] { $struck } things are out though their show is struck
}
return-list-some = { $out ->
    [one] One thing is out, in time
   *[other] { $out } things are out, all of them in time
}
return-list-none = Nothing is out
late = { $days ->
    [one] One day late.
   *[other] { $days } days late.
}
late-and-next = { $days ->
    [one] One day late.
   *[other] { $days } days late.
} { $shows } is to have it from { $day }.
late-and-hurts = { $days ->
    [one] One day late.
   *[other] { $days } days late.
} { $shows } is to have it from { $day } and feeds { $elements } by it, { $load_w }.
still-out = Still out
struck-and-out = struck on { $day }, not back yet
next-with = { $shows }
order-list-late = { $late ->
    [one] It is too late to order { $first } in time
   *[other] It is too late to order { $late } things in time
}
order-list-unproven = { $count ->
    [one] One thing to order
   *[other] { $count } things to order
}; { $unproven ->
    [one] one count is not proven
   *[other] { $unproven } counts are not proven
}
order-list-some = { $count ->
    [one] One thing to order
   *[other] { $count } things to order
}, the first by { $day }
order-list-undated = { $count ->
    [one] One thing to order
   *[other] { $count } things to order
}; nobody entered how long they take to come
order-list-none = Nothing is to be ordered
act-buy = Buy
act-hire = Hire
act-too-late = Would come too late
costs = { $cost } in all
costs-known = { $cost } as far as known; { $blank ->
    [one] one price is not on record
   *[other] { $blank } prices are not on record
}
order-piece = { $count }
order-piece-spare = { $count }, { $spare } of them spare
order-reel = { $count ->
    [one] 1 reel
   *[other] { $count } reels
}
order-reel-spare = { $count ->
    [one] 1 reel, spare
   *[other] { $count } reels, { $spare } of them spare
}
order-late = { $days ->
    [one] One day too late:
   *[other] { $days } days too late:
} ordered today it is on the shelf on { $comes }, and wanted from { $needed }.
order-too-late = Ordered today it would be here when the shortage is over.
order-not-come = On order: { $said }.
order-blank = Nobody entered: { $said }.
order-unproven = The count is not proven; open: { $said }.
order-instead = Instead: { $said }.
order-one-lot = { $said }
stocktake-sheet-differs = { $differs ->
    [one] One thing is not as the book has it
   *[other] { $differs } things are not as the book has them
}{ $count ->
    [0] { "" }
   *[other] ; { $count } still to count
}
stocktake-sheet-count = { $count ->
    [one] One thing is still to count
   *[other] { $count } things are still to count
}
stocktake-sheet-missing = { $missing ->
    [one] One thing is still to look for
   *[other] { $missing } things are still to look for
}
stocktake-sheet-none = Nothing is to count or to look for
to-look-for = It was not found: look for it.
reel-of = { $tape }, lot { $lot }
reel-to-come = { $tape }, still to come
of-plan = plan { $plan }
half-hour-check-out = { $out ->
    [one] One of { $elements } elements is out
   *[other] { $out } of { $elements } elements are out
}
half-hour-check-unfed = { $unfed ->
    [one] One element is not fed
   *[other] { $unfed } elements are not fed
}; the other feeds are in order on paper
half-hour-check-fine = { $elements } elements in { $places ->
    [one] one place
   *[other] { $places } places
}, none known to be out
half-hour-check-none = There is nothing to check yet
battery-sheet-over = { $over ->
    [one] { $first } does not last through the show
   *[other] { $over } packs do not last through the show
}
battery-sheet-blank = { $blank ->
    [one] Nobody can say yet whether one pack lasts
   *[other] Nobody can say yet whether { $blank } packs last
}
battery-sheet-fine = { $packs ->
    [one] The one pack lasts through the show
   *[other] All { $packs } packs last through the show
}
battery-sheet-none = No pack feeds anything in this show
dark-list-dark = { $dark ->
    [one] One element is dark
   *[other] { $dark } elements are dark
}
dark-list-faults = { $faults ->
    [one] Nothing is dark; one fault is still open
   *[other] Nothing is dark; { $faults } faults are still open
}
dark-list-fine = Nothing is dark
changes-some = { $count ->
    [one] One thing moved since { $since }
   *[other] { $count } things moved since { $since }
}
changes-fine = No feed moved since { $since }
changes-unprinted = Nothing was printed yet, so there is nothing to compare with
label-changes-some = { $count ->
    [one] One lead wants a new label since { $since }
   *[other] { $count } leads want new labels since { $since }
}
label-changes-fine = Every lead is fed as it was { $since }
label-changes-unprinted = Nothing was printed yet, so there is nothing to compare with
paper-empty-feed-sheet = Work out the feeds of the show first.
paper-empty-address-sheet = Addresses are set when the feeds of the show are kept.
paper-empty-lead-list = Enter runs and their leads with the elements.
paper-empty-cut-list = Plan the cuts of the show, and keep the plan.
paper-empty-take-list = What is held for a show, or used by the plan that is kept, stands here until it has come back.
paper-empty-return-list = What is given out to a show stands here until it is back.
paper-empty-order-list = What shows want beyond what there is stands here.
paper-empty-stocktake-sheet = Begin a stocktake of a place; what is to count stands here.
paper-empty-half-hour-check = Enter the elements of the show first.
paper-empty-battery-sheet = What is worn, carried or moves is fed from a pack; none is in the plan that is kept.
paper-empty-dark-list = What somebody finds out of order stands here until it works again.
paper-empty-changes = Give a day, a plan or a print to compare with; or print a paper, and the next change shows here.
paper-empty-label-changes = Give a day, a plan or a print to compare with; or print a paper, and the next change shows here.

col-step = Cut number
col-cut = Cut
col-drawn = As drawn
col-mark = Mark at
col-piece = Piece
col-label-text = Write on it
col-left = Left on the reel
col-reel = Reel
col-tape = Tape
col-lot = Lot
col-plan = Plan
col-taken = Taken
col-tag = Tag
col-how-many = How many
col-in-box = In box
col-goes-to = Goes to
col-out-from = Out from
col-out-until = Out until
col-state = State
col-went-on = Went on
col-waits-for = Waits for
col-hold = Hold
col-bin = Bin
col-back = Back
col-last-seen = Last seen
col-seen-on = Seen on
col-due-on = Due
col-days-late = Days late
col-wanted-next = Next with
col-state-back = State now
col-standing = Standing
col-ordered = Ordered
col-item = What
col-order = Order
col-packs = Packs
col-order-by = Order by
col-comes-on = Comes on
col-needed-from = Wanted from
col-wanted-by = Wanted by
col-need = Need
col-usable = There
col-due-in = Due in
col-short = Short
col-cost = Cost
col-one-lot = One lot
col-sold-as = Sold as
col-spare = Spare
col-counted-in = Counted in
col-lead-days = Days to come
col-instead = Instead
col-not-known = Not known
col-late-orders = Late orders
col-act = Act
col-found = Found
col-book-place = Place by the book
col-book-length = By the book
col-found-length = Measured
col-state-found = State now
col-differs = Otherwise
col-counted-by = Counted by
col-outcome = Outcome
col-stocktake = Stocktake
col-output = Output
col-decoder = Decoder, channels
col-address = Address
col-element = Element
col-name = Name
col-of-runs = Runs
col-load = Load
col-amps = Amps
col-fuse = Fuse
col-verdict = Verdict
col-supply = Supply
col-model = Model
col-place = Place
col-outlet = Outlet
col-supply-load = Load of supply
col-supply-limit = Limit of supply
col-supply-share = Share
col-slot = Slot
col-decoder-tag = Decoder
col-channel = Channel
col-emitter = Colour
col-limit = Limit
col-group = Group
col-stands-at = It is here
col-universe = Universe
col-made = Made
col-run = Run
col-lead = Lead
col-leads = Leads
col-connector = Connector
col-drop = Volts lost
col-ends = Fed
col-from-output = From
col-gauge = Wire
col-cores = Cores
col-seen = Seen
col-should-look = Should look
col-fed-by = Fed by
col-spare-at = Spare
col-where = Place
col-charged = Charged
col-pack = Pack
col-worn-by = Rides on
col-elements = Feeds
col-charge = Charge at start
col-used = Show and hold
col-budget = May use
col-share = Share
col-dies-at = Dies at
col-mended = Mended
col-since = Since
col-show = Show
col-symptom = What was seen
col-who = Who
col-fault = Fault
col-what = What
col-about = Tag
col-before = Before
col-after = Now
col-done = Done
col-label-now = It says
col-label-new = It should say

yes = yes
no = no
add-title = Add something
add-or-bring = One thing at a time here. With a spreadsheet at hand, everything at once:
add-group-1 = What you own
add-group-2 = Where it is, and the store
add-group-3 = Shows
add-head = Add { $one }
change-head = Change { $tag }
form-refused = Nothing was stored yet. Put right what is marked.
form-is-blank = this is blank
form-is-blank-mend = Fill it in: { $what }.
form-now = It now says: { $value }
form-now-blank = It is blank now
form-keep-again = What you typed is kept here. Where it differs, what stands now is said below; Keep puts yours in its place.
form-more = { $count ->
    [one] 1 more that may be said
   *[other] { $count } more that may be said
  }
form-optional = may be blank
form-for-plan = no plan uses it while this is blank
form-blank = Blank: { $default }

# Shows
shows-none = Begin with a show
shows-none-why = A show is what elements belong to and what feeds are worked out for. Add the first one, or bring your sheets in.
shows-fine = Nothing is over a limit in any show
shows-faults = { $count ->
    [one] 1 thing is over a limit
   *[other] { $count } things are over a limit
  } in the shows that are not over
shows-count = { $count ->
    [one] 1 show is on record.
   *[other] { $count } shows are on record.
}
shows-add = Add a show
shows-add-why = Four things are enough: a code for its labels, where it plays, the first day on stage and the last performance.
shows-now = In the house
shows-coming = To come
shows-past = Over
shows-opens = opens { $day }
shows-plays = { $from } to { $to }
shows-empty = No elements yet
shows-struck = { $count ->
    [one] 1 element, struck
   *[other] { $count } elements, struck
}
show-fed = { $fed } of { $count } elements fed
show-fed-of = { $count ->
    [one] 1 element, { $fed } fed.
   *[other] { $count } elements, { $fed } fed.
}
show-fine = Nothing is over a limit.
show-fine-short = Nothing is over
show-empty = No elements yet.
show-struck = All of its elements are struck.
show-over-supplies = { $count ->
    [one] One supply is over a limit.
   *[other] { $count } supplies are over a limit.
}
show-dark = { $count ->
    [one] One element has no feed yet.
   *[other] { $count } elements have no feed yet.
}
show-dark-short = { $count ->
    [one] 1 without a feed
   *[other] { $count } without a feed
}
show-faults = { $count ->
    [one] One thing is over a limit.
   *[other] { $count } things are over a limit.
}
show-faults-short = { $count } over a limit
show-bring = Bring in a sheet
show-print = Print
show-work-out = Work out the feeds
show-mend-all = Work it out again, moving what is over
show-kept = Plan { $number } is kept: the crew works from it now.
show-kept-see = What changed, and what to label anew
show-done = Done: { $what }.
show-draft = Plan { $number } is worked out and waits for you.
show-draft-see = Compare it with what is kept
show-working = The feeds are being worked out.
show-working-see = See how far it is
show-first = What lights up in this show?
show-first-why = Bring in the designer’s sheet of elements, or add them one by one. Then the feeds can be worked out.
show-over = Over the limit
show-over-none = Nothing is over a limit.
show-watched = { $watched } to watch, { $unknown } that cannot be checked
show-elements = Elements
show-filter = Name, place, tag or supply
show-only-all = All { $count }
show-only-dark = No feed { $count }
show-only-over = Over
show-only-locked = Locked { $count }
show-only-none = None of them.
show-loads = Load on each supply
show-loads-key = Upright: the most we let it carry. Faint stripes beyond: kept in hand. Heavy stripes: over. Each bar is to the scale of its own supply.
show-loads-none = Nothing is fed yet.
show-loads-more = { $count ->
    [one] One more with room
   *[other] { $count } more with room
}
show-addresses = Addresses
show-addresses-none = Nothing listens to a universe yet.
universe = Universe { $number }
universe-taken = { $taken } of 512 slots taken
universe-free = , free from { $slot }
universe-drawn = Universe { $number }: { $taken } of 512 slots taken
universe-clash = clash
element = Element
fed-from = Fed from
through = Decoder, channels
tape = Tape
ch = ch
straight = straight on
over-word = over
locked = locked
tape-undecided = undecided
where-not-said = Nobody has said where
runs-dark = { $count ->
    [one] 1 run dark
   *[other] { $count } runs dark
}
edit = Edit
edit-of = Edit { $name }
edit-leave = Leave it
lock = Lock its feed
unlock = Unlock its feed
lock-why = The planner then leaves it where it is.
locked-why = The planner leaves it where it is.
element-add = Add an element
element-add-why = Something that must light up. A tag, a name and the pieces of tape are enough to begin.
element-add-button = Add it
element-add-again = Add it, and another
field-tag = Tag
field-name = Name
field-scenic_unit = Piece of scenery
field-place = Place, if not on scenery
field-tape = Tape
field-pieces = Pieces, as drawn
field-lead = Lead to each run
field-lead_gauge = Wire of the lead
field-priority = Priority, 1 is fed first
field-note = Note
field-title = Title
field-code = Code
field-venue = Where it plays
field-mains_v = Mains volts there
field-load_in = First day on stage
field-opening = Opening
field-closing = Last performance
field-return_by = Last day gear may be out
hint-tag = What its label says, such as SQ-07
hint-name = What people call it
hint-unit = A new name makes a new piece of scenery, which stands still and is dry.
hint-pieces = { $units ->
    [us] Such as 3 x 30 in, or 2 ft 6 in; a + joins pieces on one lead: 30 in + 12 in
   *[other] Such as 3 x 750 mm; a + joins pieces on one lead: 750 mm + 300 mm
}
hint-lead = With its unit, such as { $units ->
    [us] 16 ft or 5 m
   *[other] 5 m or 16 ft
}
hint-code = Two or three letters, such as SQ
hint-venue = A new name makes a new stage.
hint-mains = For a new stage, such as 120 or 230
form-wrong = { $count ->
    [one] One thing to mend. Nothing was stored.
   *[other] { $count } things to mend. Nothing was stored.
}
fault-excess = { $subject } carries { $excess } too much
fault-leaves = then { $effect }
fault-also = { $count ->
    [one] The same move mends one more
   *[other] The same move mends { $count } more
}
fault-alike = { $count ->
    [one] The same with one more
   *[other] The same with { $count } more
}
fault-dark = { $name } has no feed
bar-of = { $supply } carries { $load } of the { $limit } we let it carry
bar-unknown = { $supply } carries { $load }; its limit is not known
bar-over = { $excess } over
bar-left = { $left } left
bar-limit-unknown = limit not known
mend-changes = What that changes
mend-gone = { $count ->
    [one] One thing is over a limit no more:
   *[other] { $count } things are over a limit no more:
}
mend-new = But this would be over: { $head }
mend-dark = no feed
mend-labels = { $count ->
    [one] One lead to label anew.
   *[other] { $count } leads to label anew.
}
mend-loads = What the supplies carry
mend-before = now
mend-after = then
mend-unused = carries nothing
mend-by-hand = By hand
hands-feed = Plug the leads over, and label them anew. The record says it is done as soon as you say so here.
hands-lead = Make and fit the lead. The record has the new wire as soon as you say so here.
hands-address = Set the address on the decoder, and label it anew.
hands-plug = Plug the supply into the other outlet.
mend-why = Why it is done all the same
mend-why-note = A competent person has decided it. It stays on record with your name.
mend-do = Do it
mend-never = This is never done: tape would smoke, or two supplies would meet.
mend-source = Source: { $source }.
working-title = Working out the feeds of { $show }
working-why = Plan { $number }. You may leave this page: it goes on, and nothing changes until you keep it.
working-queued = Waiting for its turn
working-begun = Reading the show and the store
working-parts = Part { $done } of { $parts } is done
working-no-gap = Nothing is proven yet
working-gap = { $gap ->
    [0] No better plan exists
   *[other] { $gap } % more gear than the least that is proven
}
working-gap-key = The line falls as the best plan so far nears the best there can be.
working-unfed = { $count ->
    [one] 1 run has no feed so far
   *[other] { $count } runs have no feed so far
}
working-cancel = Stop
plan-title = Plan { $number }, { $show }
plan-number = plan { $number }
plan-all-fed = { $count ->
    [one] The one element is fed
   *[other] All { $count } elements are fed
  }, from { $supplies ->
    [one] one supply
   *[other] { $supplies } supplies
}
plan-some-fed = { $fed } of { $count } elements are fed, { $dark ->
    [one] one stays dark
   *[other] { $dark } stay dark
}
plan-failed = The feeds could not be worked out
plan-cancelled = It was stopped before it was done
plan-cancelled-why = Nothing has changed.
plan-same = nothing changes.
plan-nothing = Nothing moves
plan-nothing-why = Every feed stands as it is kept.
plan-moves = { $count ->
    [one] 1 element moves
   *[other] { $count } elements move
}
plan-feeds = { $count ->
    [one] 1 gets a feed
   *[other] { $count } get a feed
}
plan-darkens = { $count ->
    [one] 1 loses its feed
   *[other] { $count } lose their feed
}
plan-readdresses = { $count ->
    [one] 1 changes its address
   *[other] { $count } change their address
}
plan-beside = Beside plan { $number }, which is kept:
plan-first = It is the first plan of this show.
plan-proven = No better plan exists: that is proven.
plan-gap = It takes at most { $gap } % more gear than the least there can be.
plan-stopped = Time ended the search; a longer one may find better.
plan-kept = Kept { $at }. The crew works from it.
plan-superseded = Another plan took its place.
plan-leave = Leave what is kept
plan-keep = Keep this plan
plan-again = Work it out again
plan-harder = Try harder
plan-list-dark = { $count ->
    [one] 1 loses its feed
   *[other] { $count } lose their feed
}
plan-list-moved = { $count ->
    [one] 1 moves
   *[other] { $count } move
}
plan-list-fed = { $count ->
    [one] 1 gets a feed
   *[other] { $count } get a feed
}
plan-list-address = { $count ->
    [one] 1 changes its address
   *[other] { $count } change their address
}
plan-before = As it is kept
plan-after = In this plan
plan-stay-dark = { $count ->
    [one] 1 stays dark, and why
   *[other] { $count } stay dark, and why
}
plan-feeds-all = What feeds each
plan-labels = { $count ->
    [0] No label changes
    [one] 1 lead to label anew
   *[other] { $count } leads to label anew
}
plan-labels-none = Every lead keeps the label it has.
plan-labels-why = Source, decoder and channels, first slot: as it stands on each lead.
plan-notes = What else to know

# Labels
labels-head = { $count ->
    [one] One label
   *[other] { $count } labels
} on { $pages ->
    [one] one sheet
   *[other] { $pages } sheets
}
labels-none = Nothing is chosen that wants a label
labels-refused = Nothing is laid out yet: mend what is marked
labels-nothing = There is nothing of this to print. Choose something else, or put it on record first.
labels-nothing-leads = There is nothing to print: no feeds of this show are kept. Work out its feeds and keep them first.
labels-no-show = No show has the code { $code }. Choose one from the list of shows.
labels-no-sheet = There is no sheet { $sheet }. Choose one from the list, or give your own measures.
labels-no-count = “{ $typed }” is not a count. Write how many labels are used, such as 5.
labels-no-address = “{ $typed }” is no address of this service. Write it as in { $example }
labels-empty = Nothing of this is on record yet. Put your tape, supplies and shows on record first: a label needs a tag.
labels-why = Each has a code that a phone’s own camera reads; it leads to the thing, in whatever state it is by then.
labels-what = Labels for
labels-leads = its leads: what feeds them, as it is kept
labels-elements = its elements
labels-gear = its supplies, decoders and batteries
labels-house = Or for the whole house
labels-of-places = places
labels-of-connectors = connectors
labels-of-tapes = tapes
labels-of-supply-models = supply models
labels-of-decoder-models = decoder models
labels-of-battery-models = battery models
labels-of-supplies = supplies
labels-of-decoders = decoders
labels-of-batteries = batteries
labels-of-enclosures = boxes
labels-of-outlets = outlets
labels-of-reels = reels
labels-of-productions = shows
labels-tags = Only these tags (blank: all of them)
labels-sheet = Sheet
labels-measures = { $across } across, { $down } down, { $lw } × { $lh } mm, on { $w } × { $h } mm
labels-own = my own measures
labels-own-open = Measures of the sheet, in millimetres or with their unit
measure-no-count = “{ $typed }” is not a count
measure-no-count-mend = Write 3.
measure-no-length = “{ $typed }” is not a length
measure-no-length-mend = Write it as 63.5 mm or 2.5 in.
measure-low-count = “{ $typed }” is less than nothing
measure-low-count-mend = Write 3.
measure-low-length = “{ $typed }” is less than nothing
measure-low-length-mend = Write it as 63.5 mm or 2.5 in.
measure-page-w = Page, wide
measure-page-h = Page, high
measure-across = Labels across
measure-down = Labels down
measure-label-w = Label, wide
measure-label-h = Label, high
measure-left = Left edge to first label
measure-top = Top edge to first label
measure-pitch-x = From label to label, across
measure-pitch-y = From label to label, down
labels-skip = Labels of the first sheet that are used already
labels-skip-why = Or tap the first free one on the sheet.
labels-base = Address of this service, as phones reach it
labels-base-why = It goes into every code.
labels-here-only = This address is of this machine alone. Write the one that phones reach.
labels-show = Show
labels-first-page = The first sheet
labels-fine = The code is very fine on labels of this size. Try one with a phone before you print them all.
labels-start = Begin at label { $number }
labels-tap = Print at its true size: switch off “fit to page”. Crossed out: used already.

# Bring in a sheet
bring-head = Bring in a sheet
bring-how = A workbook, a CSV file, or several. You see how it is read and which rows need you before anything is written.
bring-file = Your file
bring-read = Look at it
bring-lately = Brought in lately
bring-undone = taken back
bring-sheets = What may be brought in
bring-first = For a first plan: venues, tapes, supply models, supplies, decoder models, decoders, productions, elements. Beside each name stands what it must have.
bring-sheets-why = Your columns may go by their own names; you match them on the next page.
bring-template = An empty workbook with every column
bring-each = Each row is { $what }.
bring-must = must be there
bring-blank = blank: { $what }
bring-ready = { $ready ->
    [one] One row is ready.
   *[other] { $ready } rows are ready.
}
bring-none-ready = No row is ready yet.
bring-all-known = All of it is on record already.
bring-unread-kind = what its rows are cannot be told from its heads
bring-unread-kind-mend = Choose below what each row is, or write the heads as the empty sheet has them and choose the file again.
bring-unread-columns = none of its heads is known for such rows
bring-unread-columns-mend = Say below what each column is, or write the heads as the empty sheet has them and choose the file again.
bring-unread-rows = it has heads and no row below them
bring-unread-rows-mend = Fill in a row below the heads and choose the file again.
bring-heads-read = Heads that were read: { $heads }.
bring-heads-known = Known, of { $sheet }: { $known }.
bring-heads-unknown = None of them is known.
bring-heads-missing = Missing besides: { $missing }.
bring-waits = Another table of { $sheet } comes first
bring-waits-why = { $rows ->
    [one] Its row is kept meanwhile: look at it when the first ones are in.
   *[other] Its { $rows } rows are kept meanwhile: look at them when the first ones are in.
}
bring-need = { $need ->
    [one] One needs you first.
   *[other] { $need } need you first.
}
bring-rows = { $rows ->
    [one] one row.
   *[other] { $rows } rows.
}
bring-unwritten = Nothing has been written yet.
bring-same = { $count ->
    [one] One says what is on record already.
   *[other] { $count } say what is on record already.
}
bring-changed = { $count ->
    [one] One changes what is on record.
   *[other] { $count } change what is on record.
}
bring-again = Start again
bring-send = { $need ->
    [one] Send me that row
   *[other] Send me the { $need } rows
}
bring-add = { $ready ->
    [one] Add the one row
   *[other] Add the { $ready } good rows
}
bring-that-need = Rows that need you: { $sheet }
bring-row = Row
bring-why = What is wrong
bring-empty = empty
bring-most-of = The first { $most } of { $all }.
bring-pages = Rows that need you, page by page
bring-page = page { $page } of { $pages }
bring-earlier = Earlier rows
bring-later = Later rows
bring-columns = How your columns are read
bring-each-row = Each row is one of
bring-leave = leave out
bring-your = your “{ $head }”
bring-guess = a guess: look at it
bring-unit = its bare numbers are in
bring-unit-cells = each cell says its unit
bring-may-change = Rows may change what is on record already
bring-look-again = Read it so
bring-changes = What changes
bring-ready-rows = { $ready ->
    [one] The row that is ready
   *[other] The { $ready } rows that are ready
}
bring-remarks = What was left aside or assumed
bring-done = { $count ->
    [0] { $changed ->
        [0] Nothing of it was new
       *[other] What is on record was changed
    }
    [one] One row is on record
   *[other] { $count } rows are on record
}
bring-new = { $count } new
bring-left = { $count ->
    [one] One row was left out: look at it next.
   *[other] { $count } rows were left out: look at them next.
}
bring-left-look = Look at what was left out
bring-another = Bring in another
bring-undo = Take all of it back
bring-undo-why = For a week, as long as nobody has changed or used any of it. Then the same sheet can come in again.
bring-undone-head = All of it was taken back

# What each limit means
limits-head = { $count } limits are asked of every show
limits-how = The worst harm comes first. Each says what it is asked of, where it comes from and what to mind.
limits-harm = By what happens if it is ignored
limits-about = of each { $what }
limits-source = Source
limits-caution = Mind
limits-house = Figures of this house
limits-house-how = They decide what is too much. A marked one differs from what is built in. Change them with the sheet “house rules”.
limits-rule = Rule
limits-here = Here
limits-built-in = Built in
limits-range = It may be
limits-span = from { $low } to { $high }
harm-1 = Fire or heat
harm-2 = Wrong voltage
harm-3 = Goes dark
harm-4 = Looks wrong
harm-5 = Paperwork

# One put in the place of another
swap-title = Swap { $old }
swap-head-same = { $new } can take the place of { $old } as it is
swap-head-other = { $new } can stand in for { $old }, with differences
swap-head-partly = Whatever could stand in for { $old } has a hitch
swap-head-none = Nothing can stand in for { $old }
swap-carries = { $old }, { $model }: { $count ->
    [one] 1 run
   *[other] { $count } runs
  } of { $show }, up to { $day }.
swap-stands = It is at { $where }.
swap-reserve = Spares of { $model }: { $free } free, { $needed } wanted.
swap-helps = This would help: { $what }.
swap-same = the same model
swap-lies = It lies at { $where }
swap-near = near by
swap-until = Only up to { $day }
swap-lent-until = then up to { $day }
swap-lent = With another show
swap-stays = Over as before: { $what }
swap-mends = { $count ->
    [one] It also mends one thing that is over or near a limit.
   *[other] It also mends { $count } things that are over or near a limit.
}
swap-mended = It mends: { $what }
swap-take = Take { $new }
swap-take-in = Take { $new } in first
swap-for = For { $old }
swap-all = { $count ->
    [0] Why nothing will do
    [one] All about it, and why others will not do
   *[other] All { $count }, and why others will not do
}
swap-others = Why others will not do
swap-and-more = and { $count } more
swap-elsewhere = { $old } is in the kept plan of { $show } too, from { $from }.
swap-sure = Put { $new } in for { $old }?
swap-caution = Before you touch it
swap-record = { $new } is out with { $show } from now on. { $old } gets a fault record, unless it is only exchanged, and the next crew a note. All of it can be taken back.
swap-wrong = What is wrong with { $old }?
swap-known = As it is on record: { $what }
swap-found-dead = It gives nothing
swap-found-flicker = It flickers or drops out
swap-found-hot = It is too hot, smells or hums
swap-found-colour = A colour is missing
swap-found-short = It does not last
swap-found-swollen = It is swollen, hot or was dropped
swap-found-unsure = Perhaps nothing; it is to be tested
swap-found-exchange = Nothing: it is only exchanged
swap-do = Put { $new } in for { $old }
swap-no-reason = that is too short for a reason
swap-no-reason-mend = Say why a competent person has decided it.
swap-no-finding = nobody said what was found
swap-no-finding-mend = Choose one of what it may be.
swap-not-done = That was not done.
swap-done = { $new } is in for { $old }
swap-undone = { $old } is back, { $new } is free again
swap-was = { $number }, { $show }, { $day }
swap-undone-why = Taken back { $day }. Everything is as it was before.
swap-on-record = On record
swap-fault = Fault record
swap-note = Note for the next crew
swap-hold = Hold of the new one
swap-undo = Take it back
swap-undo-why = Everything is then as it was before, as long as nobody has changed any of it.
differs-not = instead of { $was }
differs-unknown = not known
differs-model = Model
differs-volts = Volts
differs-watts = Rated
differs-outputs = Outputs
differs-output = Most on one output
differs-plug = Connector of the output
differs-capacity = Capacity
differs-charge = Charge, as measured
differs-warm = Full power up to
differs-channels = Channels
differs-channel = Each channel
differs-feeds = Power feeds
differs-total = All channels of a feed
differs-slots = Slots it takes
differs-protocol = Listens to
differs-control = Connector of the control
differs-pwm = Dims at
differs-curve = Dimming curve
differs-least = Least volts
differs-highest = Highest volts

# What happened
happened-step = { $said }
happened-fault = { $number }: { $what }
happened-mended = { $number } mended: { $what }
happened-note = Note { $number }: { $what }
happened-tested = { $number } passed a bench test. { $what }
happened-failed = { $number } failed a bench test. { $what }
happened-issued = { $number }: went out to { $show }
happened-returned = { $number }: came back from { $show }
happened-kept = Plan { $plan } kept: { $feed }
happened-moved = Fed from { $after }, no longer from { $before }
happened-swapped = { $number }: { $new } put in for { $old } in { $show }{ $why }
happened-swapped-back = { $number } taken back: { $old } again in place of { $new }
happened-swapped-feed = { $number }: { $new } put in for { $old }. { $before } → { $after }
happened-swapped-back-feed = { $number } taken back. { $before } → { $after }

# First steps
first-title = First steps
first-none = From nothing to a first plan
first-some = { $done } of { $count } steps are done
first-over = A plan is kept: the house works
first-why = Nine steps. Each can be taken by form, or from a sheet that you have already; nothing has to be complete before you go on.
first-over-why = All that is left to add stands in the list below.
first-bring = A sheet brings in many rows at once, and several kinds of them.
first-next = comes next
first-more = Add more
first-done = { $count } on record
first-look-round = To look round first, “wattwright demo” on the command line serves an invented season beside this, in a database of its own.
first-tapes = The tape you own
first-tapes-why = Its volts, watts a metre and cutting marks, from the maker’s sheet.
first-tapes-do = Add a tape
first-supply-models = Kinds of supply
first-supply-models-why = Volts, watts and amps of each output, and the warmth it can stand.
first-supply-models-do = Add a kind of supply
first-supplies = The supplies themselves
first-supplies-why = One row for each box, by the tag on it.
first-supplies-do = Add a supply
first-decoder-models = Kinds of decoder
first-decoder-models-why = Only for what dims or changes colour: channels, amps, volts.
first-decoder-models-do = Add a kind of decoder
first-decoders = The decoders themselves
first-decoders-why = One row for each, by the tag on it.
first-decoders-do = Add a decoder
first-productions = A show
first-productions-why = Where it plays, from when to when.
first-productions-do = Add a show
first-elements = What lights up in it
first-elements-why = Each lit thing with its tape and its pieces.
first-elements-do = Add an element
first-plan = Work out the feeds
first-plan-why = Which output, which decoder, which channels feed each; nothing changes until you keep it.
first-plan-do = Work out the feeds
first-keep = Keep the plan
first-keep-why = Look at it, then keep it: from then on the crew finds every feed.
first-keep-do = Look at the plan

# How pages are worked
help-how = How pages are worked
help-parts = On this page
keys-head = With a keyboard
keys-slash = /
keys-slash-does = goes to the search of the page, or to Find.
keys-arrows = Arrows
keys-arrows-does = down from the search into what was found and up again; among choices, from one to the next.
keys-escape = Esc
keys-escape-does = from what was found back to the search; there it empties it, then leaves it.
keys-tab = Tab
keys-tab-does = goes to the next link, field or button; with Shift to the one before. A frame shows where you are.
keys-enter = Enter
keys-enter-does = follows a link, presses a button, or sends the form you are in.
keys-space = Space
keys-space-does = ticks a box, presses a button, or scrolls a page down.
keys-skip = Tab, then Enter
keys-skip-does = at the top of a page goes past the list of pages, straight to what the page says.
keys-off = The single key / can be switched off where it gets in the way of other software:
looks-head = Three looks
looks-day = dark on white, for a desk.
looks-night = light on black, for a rack.
looks-red = long waves only and no bright areas, for eyes that must stay used to the dark. No colour means anything there.
looks-marks = In every look a state is a shape and a word first: a filled triangle is over, an open diamond is nearly full, a dashed ring is missing or not known.
units-head = Units
units-how = Lengths are read in metres or feet and temperatures in °C or °F, as each person wishes, and forms take a bare figure in the unit of its label; the sheets and the record stay in metres. Whatever you type may say its own unit: 16 ft, 480 cm, 18 AWG.
kept-head = Without a network
kept-how = A phone keeps the feeds of the shows on stage when it opens Find, and again when a plan is kept. Without a network it shows what it kept, and since when. Nothing is changed from there: what you found has to wait until there is a network again.
kept-certificate = Phones keep pages only over an address that they trust (HTTPS). Where there is none, the same feeds can be taken along as one file.
wishes-keys = Single keys
wishes-keys-on = / goes to the search
wishes-keys-off = off

# Shelf
shelf-empty = Nothing is on the shelf yet
shelf-empty-why = Say what kinds of tape, supplies and decoders you have; then how many, or which reels. A sheet brings all of it in at once.
shelf-add-tape = Add a tape
shelf-add-model = Add a supply model
shelf-models = { $count ->
    [one] 1 model
   *[other] { $count } models
}
shelf-tapes = { $count ->
    [one] 1 tape
   *[other] { $count } tapes
}
shelf-and = { $a } and { $b }
shelf-short = { $what } { $count ->
    [one] runs
   *[other] run
} short this season
shelf-enough = Nothing runs short this season
shelf-open-reels = { $count ->
    [0] no reel is open
    [one] 1 reel is open
   *[other] { $count } reels are open
}
shelf-now = { $count ->
    [0] Nothing is short today.
    [one] One thing is short today.
   *[other] { $count } things are short today.
}
shelf-overdue = { $count ->
    [one] One unit should be back by now.
   *[other] { $count } units should be back by now.
}
shelf-tasks = What is done at the shelf
shelf-things = What there is
shelf-to-reels = Reels in use
shelf-filter = Model, tape, volts or show
shelf-kind-all = All
shelf-kind-supply = Supplies
shelf-kind-decoder = Decoders
shelf-kind-battery = Batteries
shelf-kind-tape = Tape
shelf-kind-short = Short
shelf-thing = Thing
shelf-owned = Owned
shelf-sound = Sound
shelf-out = Out, with whom
shelf-free = Free today
shelf-least = Least free, and who has it then
shelf-season = Wanted through the season
shelf-own-sound = { $owned } owned, { $sound } sound
shelf-out-with = out: { $who }
shelf-late = { $count } overdue
shelf-short-by = short { $amount }
shelf-beyond = shows want { $amount } more than there is
shelf-due = { $amount } due in
shelf-channels = { $count ->
    [one] 1 channel
   *[other] { $count } channels
}
shelf-none = Nothing here goes by “{ $typed }”. Try a model, a tape, a show or its volts.
shelf-none-short = None of them.
reels-head = Reels in use, and offcuts
reels-why = Cut from these first: the shortest that will do.
reels-left = { $left } on the shelf
reels-one-left = { $left } left
reels-off = off { $reel }
reels-promised = { $m } promised to { $who }
reels-none-open = None is in use.
reels-sealed = { $count ->
    [one] 1 more: sealed, or set aside
   *[other] { $count } more: sealed, or set aside
}
reels-none = No tape is on the shelf.
reel-sealed = sealed
reel-open = open
reel-offcut = offcut
reel-held = set aside
reel-used-up = used up
reel-scrap = scrap
reel-written-off = written off

receive-do = Take in a delivery
receive-head = { $count ->
    [0] Nothing that is on order is still to come
    [one] One order line is still to come
   *[other] { $count } order lines are still to come
}
receive-line = What came
receive-to-come = { $count } of { $ordered } still to come
receive-of = order { $order } line { $line }
receive-due = due { $day }
receive-reel = { $m } each
receive-number = Number of the delivery note
receive-number-why = The same note is never taken in twice.
receive-quantity = How many came
receive-lot = Lot on the reels
receive-lot-why = Blank: the lot that was ordered.
receive-no-line = no order line is chosen
receive-no-line-mend = Choose the line that it came of.
receive-more = Where it goes, tags, day
receive-place = Place
receive-place-why = Blank: where the last of its kind lies.
receive-tags = Tags, one for each
receive-tags-why = Blank: the next free ones.
receive-on = Day it came
receive-button = Take it in
receive-nothing = Enter the order first: what was ordered, how many, and when it is due.
receive-add-order = Enter an order
receive-lately = Came lately
receive-none-lately = Nothing was taken in yet.
receive-undone = { $number } was taken back: it is still to come.
delivery-head = { $number }: { $quantity } × { $what }
delivery-again = { $number } was taken in already, { $day }, with the same. Nothing was done now.
delivery-done = Taken in.
delivery-came = What came with it
delivery-labels = Labels for these
delivery-undo-why = As long as nothing of it is cut, promised or placed.

count-do = Count a place
count-under-way = { $count ->
    [one] One place is being counted
   *[other] { $count } places are being counted
}
count-none-open = Nothing is being counted now
count-which = Which place?
count-inside = What lies inside it is counted with it.
count-things = { $count ->
    [one] 1 thing
   *[other] { $count } things
}
count-begin = Count it
count-go-on = Go on
count-bare = { $count ->
    [one] 1 place where nothing lies by the book
   *[other] { $count } places where nothing lies by the book
}
count-no-places = No place is on record: bins, shelves, drawers.
count-add-place = Add a place
count-past = Counted lately
count-is-closed = closed
count-is-abandoned = given up
count-left = { $count ->
    [0] all counted
   *[other] { $count } to count
}
count-to-settle = { $count } to settle
count-look-for-some = { $count } to look for
count-closed = { $place } is counted
count-abandoned = The count of { $place } was given up
count-differs = { $place }: { $count ->
    [one] one thing differs from the book
   *[other] { $count } things differ from the book
}
count-so-far = { $place }: { $counted } of { $all } counted
count-all = { $place }: all { $count } counted
count-book = The book changes only where you put it right by what was counted.
count-done = { $count ->
    [one] One thing is counted.
   *[other] { $count } things are counted.
}
count-scan = Tag of a thing that is here
count-scan-why = Type or scan it, one after another. What the book has elsewhere counts too.
count-length = Left on it, if it is a reel and you measured
count-length-why = With its unit, such as 3.2 m, 900 mm or 10 ft
count-one-length = one length is given for several tags
count-one-length-mend = Count a reel with its length by itself.
count-unticked = nothing was ticked
count-unticked-mend = Say of each thing whether it is here, or type a tag.
count-here = It is here
count-differ = { $count ->
    [one] One thing differs
   *[other] { $count } things differ
}
count-differ-why = Put the book right by what was found; or leave it to be looked for, and the book stays.
count-accept = Put the book right
count-accept-all = Put the book right by all { $count }
count-look-for = Look for it
count-to-count = { $count ->
    [one] One thing to count
   *[other] { $count } things to count
}
count-is-here = here
count-not-here = not here
count-measured = Left on it, measured
count-bad = Something is wrong with it
count-state = It is
count-page = Page { $page } of { $pages }. Write down what you ticked before you turn it.
count-before = Page before
count-next = Next page
count-write = Write down what I ticked
count-looking = { $count ->
    [one] One thing to look for
   *[other] { $count } things to look for
}
count-undo = Take it back
count-settled = { $count ->
    [one] 1 is settled
   *[other] { $count } are settled
}
count-outcome-agrees = as the book has it
count-outcome-accepted = the book was put right
count-close = Close the count
count-close-when = It can be closed once everything is counted and every difference settled.
count-abandon = Give this count up
count-abandon-why = What was counted stays on record; the book stays as it is.

move-tags = Tags
move-tags-why = Type or scan them one after another; Enter takes them.
move-stayed = { $count ->
    [one] One stays as it is
   *[other] { $count } stay as they are
}
out-do = Gear out
out-which = Which show does it go to?
out-no-show = No show takes gear now
out-other = Another show
out-head = Gear out to { $show }
out-button = Out to { $show }
out-today = { $count ->
    [0] Out today
    [one] 1 out today
   *[other] { $count } out today
}
out-none-today = Nothing went out to it today.
out-due = back by { $day }
out-goes = goes to { $place }
out-undone = { $tag } did not go out.
back-do = Gear back
back-overdue = { $count ->
    [one] One unit should be back by now
   *[other] { $count } units should be back by now
}
back-fine = Nothing is overdue
back-wrong = Something is wrong with it, or it goes elsewhere
back-found = What was found
back-found-why = It is set aside, and a fault is opened.
back-how-bad = How bad is it?
back-faulty = It does not work
back-suspect = Not to be trusted until it was tried
back-place = Place
back-place-why = Blank: its own bin, or quarantine where something is wrong.
back-button = It is back
back-late = Overdue
back-days = { $who }, { $days ->
    [one] 1 day
   *[other] { $days } days
}
back-today = { $count ->
    [0] Back today
    [one] 1 back today
   *[other] { $count } back today
}
back-none-today = Nothing came back today.
back-from = from { $who }
back-undone = That { $tag } came back was taken back.

# Cutting
cutting-some = { $cuts ->
    [one] One cut to make
   *[other] { $cuts } cuts to make
} from { $reels ->
    [one] one reel
   *[other] { $reels } reels
}
cutting-unplanned = { $count ->
    [one] One piece is to be cut, and no plan is kept for it
   *[other] { $count } pieces are to be cut, and no plan is kept for them
}
cutting-also-unplanned = { $count ->
    [one] 1 more piece is in no kept plan
   *[other] { $count } more pieces are in no kept plan
}
cutting-fine = Nothing is left to cut
cutting-fine-why = Pieces come from the elements of shows: draw them there, and they are asked for here.
cutting-kept = The bench works from
cutting-none-kept = No plan is kept. Work one out, look at it, keep it.
cutting-left = { $count ->
    [one] 1 cut left
   *[other] { $count } cuts left
}
cutting-kept-at = Kept { $at }.
cutting-drafts = Not kept yet
cutting-draft = waits for you
cutting-working = being worked out
cutting-past = Done, or replaced
cutting-past-all = All of them
cutting-is-done = done
cutting-is-superseded = replaced
cutting-is-abandoned = given up
cutting-ask = Work out the cuts
cutting-ask-why = Which piece comes off which reel, so that reels in use go first and the least is wasted.
cutting-for = For
cutting-pieces = { $count ->
    [one] 1 piece to cut
   *[other] { $count } pieces to cut
}{ $unplanned ->
    [0] , planned
   *[other] , { $unplanned } in no kept plan
}
cutting-may-buy = Reels may be bought for it
cutting-work-out = Work out the cuts
cutting-no-pieces = No show wants anything cut. Pieces are drawn with the elements of a show.
cut-working = Working out the cuts of { $number }
cut-working-for = For { $shows }.
cut-working-keeps = You may leave this page: it goes on, and takes the place of { $old } as soon as it is worked out.
cut-working-why = You may leave this page: it goes on, and nothing changes until the plan is kept.
cut-plan-failed = { $number } could not be worked out
cut-plan-superseded = Another plan took the place of { $number }
cut-plan-abandoned = { $number } was given up
cut-plan-done = Every piece of { $number } is cut
cut-plan-left = { $count ->
    [one] One cut left, from one reel
   *[other] { $count } cuts left, from { $reels ->
        [one] one reel
       *[other] { $reels } reels
    }
}
cut-plan-nothing = There is nothing to cut
cut-plan-unmet = { $unmet } of { $pieces } pieces { $unmet ->
    [one] gets
   *[other] get
} no tape
cut-plan-met = { $pieces ->
    [one] The one piece comes
   *[other] All { $pieces } pieces come
} from { $reels ->
    [one] one reel
   *[other] { $reels } reels
}{ $buy ->
    [0] { "" }
    [one] , one of them to buy
   *[other] , { $buy } of them to buy
}
cut-plan-proven = No better plan exists: that is proven.
cut-plan-gap = At most { $gap } % dearer than the least there can be.
cut-plan-of = { $number } for { $shows }, { $day }.
cut-abandon = Give this plan up
cut-abandon-why = Its reels are free again. What is cut stays cut.
cut-keep-plan = Keep this plan
cut-again = Ask for it again
cut-superseded-by = In its place stands
cut-unmet = Pieces that get no tape
cut-unmet-one = { $element }/{ $piece }, { $length }
cut-by-tape = Tape by tape
cut-tape = { $pieces ->
    [one] 1 piece, { $needed }
   *[other] { $pieces } pieces, { $needed }
}
cut-opened = Sealed reels opened
cut-new = Reels not here yet
cut-to-buy = { $count } to buy
cut-on-order = { $count } on order
cut-scrap = Too short to keep
cut-joints = Joints
cut-others = then { $short } short for { $who }
cut-proven = No plan is better: proven.
cut-reels = Reel by reel
cut-tape-left = { $count ->
    [0] all cut
    [one] 1 cut
   *[other] { $count } cuts
}, { $reels ->
    [one] 1 reel
   *[other] { $reels } reels
}
cut-print = Print the cut list
cut-key = Each strip is a reel as it is now: its outer end left, the hub right. Heavy line: cut. Small ticks: where it may be cut. Dashed end: stays on the reel. Striped end: too short to keep.
cut-lot = lot { $lot }
cut-to-come = still to come
cut-keep = stays: { $left }
cut-drawn = { $reel }: { $count ->
    [one] 1 cut
   *[other] { $count } cuts
} off { $left }; { $keep } stays
cut-facts = { $joints ->
    [0] No joints
    [one] One piece with a joint
   *[other] { $joints } joints
}; { $scrap } is too short to keep.
cut-done = Cut: { $label }
cut-by-mistake = marked by mistake
cut-undone = Taken back: { $label } is to be cut again.
cut-next = Next cut
cut-off = { $tape }, lot { $lot }: off
cut-number = Cut
cut-mark = Mark it, from the outer end, at
cut-mark-at = mark at { $at }
cut-piece = Piece
cut-waste = Too short to keep
cut-stays = Then this stays, from the hub
cut-it = It is cut
cut-bin-it = It is binned
cut-all-done = Nothing of this plan is left to cut.
cut-undo = Take back: { $label }
cut-take-back = Take back
cut-pitch = Cut only on its marks, every { $pitch }.
cut-on-it = { $left } on it
cut-short = { $reel } is short
cut-short-found = Length found on it
cut-short-hint = After the cuts made so far. The book has { $book }; it counts in marks of { $pitch }. Write the unit.
cut-short-button = Count it so, and plan the rest again
cut-came = Tag of the reel that came
cut-came-hint = It becomes { $name } of this plan.
cut-offcut = Take the { $left } that stay off it, as an offcut
cut-offcut-tag = Tag of the offcut
cut-offcut-hint = Blank: what stays stays on its reel.
