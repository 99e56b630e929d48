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
offline = No connection. Kept on this device { $at }. It may have changed since.
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
kind-element = element
kind-supply = supply
kind-decoder = decoder
kind-battery = battery
kind-enclosure = box
kind-outlet = outlet
kind-reel = reel
kind-place = place
kind-show = show

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
feed-dark-since = Dark since { $day }: { $what }
feed-first = Go to first
feed-pull = If you pull it
feed-pull-none = Nothing else is on output { $output }.
feed-pull-output = Output { $output } also feeds:
feed-pull-all = Pull all of { $supply } and these go too:
feed-pull-only = { $supply } feeds nothing else.
feed-found = Say what you found
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
feed-test = More about it

found-title = What did you find?
found-choice = What it does
found-out = It is out
found-flicker = It flickers
found-colour = A colour is missing
found-dim = It is dim or brown at the far end
found-words = In your words
found-by = Your name
found-button = Write it down
found-done = Written down as { $number }. The next crew sees it on the dark list.

refused-title = That was not done
refused-mend = What to do
refused-back = Go back
refused-row = Row { $row }

wishes-title = How pages look on this device
wishes-units = Lengths in
wishes-metric = metres and millimetres
wishes-us = feet and inches
wishes-name = Your name, for the record
wishes-name-why = It stands beside what you write down. Nobody has to prove it yet.
wishes-keep = Keep

kept-title = Feeds on stage
kept-made = As it stood { $at }.
kept-filter = Name, place, tag, supply or decoder
kept-take = Take it away as one file
kept-forget = Forget what this device kept
kept-forget-why = Before you hand the phone on:

thing-dark = Pull { $tag } and these go dark
thing-dark-none = Nothing hangs on it in a plan that is kept.
thing-part = in part
thing-record = On record

load = Load
load-unknown = its limit is not known
load-over = { $excess } too much
load-left = { $left } left
as-table = The same as a table
unit-carries = carries { $load } of { $limit } that we let it carry.
unit-carries-unknown = carries { $load }.
unit-rated = Rated { $rated }.
unit-outlet = Outlet { $outlet }.
unit-box = In the box { $box }.
unit-feeds = What it feeds
unit-volts = Volts along { $run }, its longest run
unit-volts-note = All emitters at full. The drop of decoders, connectors and joints is not counted, so the truth is a little lower.

season-enough = Nothing is short
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
season-take = Take the figures away
season-key = Striped bar: gear wanted before the first night. Solid: in front of an audience. Open: not yet back. The heavy line is what there is, what is due in counted; a striped block above it is what is missing.
season-none = No show is on record yet.
season-bring = Bring in a sheet
season-over = Every show on record is over.
season-sort = To sort out, the earliest first
season-line = { $item }: { $short } short
season-clears = clears { $day }
season-stays = and it does not clear
season-wants = Wanted by { $who }; there are { $there }, { $due } due in.
season-move = This removes it:
season-helps = This helps:
season-clashes = Wanted twice, or overdue
season-twice = { $tags } tags that both { $first } and { $second } have
season-overdue = { $tags }: { $days } days overdue from { $who }
season-hurts = hurts { $who }
season-drawn = Shows, and what is wanted of each thing beside what there is.
season-most = at most { $most } wanted, { $there } there.
season-at-most = { $unit ->
    [m] { $most } m wanted at most
   *[other] { $most } wanted at most
  }
season-there = { $unit ->
    [m] { $there } m there
   *[other] { $there } there
  }
season-short-word = short
season-today = today
