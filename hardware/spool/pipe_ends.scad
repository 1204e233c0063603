// Saddle of the pressure tap, flow straightener, adapter from hose to pipe.

// Glued around the drilled tap, two cable ties in its grooves. Printed on its end: the pipe's axis is upright, and the
// nipple rises by 50 degrees. Its channel meets the pipe in the middle of the mouth.
module saddle() {
    inside = pipe_outer / 2 + 0.1;
    outside = inside + 4;
    high = 52;
    mouth = 20;
    half = min(60, 900 / pipe_outer + 18);   // degrees on each side
    difference() {
        union() {
            rotate([0, 0, -half]) rotate_extrude(angle = 2 * half) polygon([
                [inside, 0], [outside, 0], [outside, 4], [outside - 1.2, 5.3], [outside - 1.2, 9], [outside, 10.3],
                [outside, 42], [outside - 1.2, 43.3], [outside - 1.2, 47], [outside, 48.3], [outside, high], [inside, high],
            ]);
            translate([inside, 0, mouth]) rotate([0, 40, 0]) {
                translate([0, 0, -4]) cylinder(d = 8, h = 17.6, $fn = 36);
                translate([0, 0, 13]) cylinder(d1 = 5.8, d2 = 4.8, h = 15, $fn = 36);
            }
        }
        translate([0, 0, -1]) cylinder(r = inside, h = high + 2);
        translate([inside, 0, mouth]) rotate([0, 40, 0]) translate([0, 0, -10]) cylinder(d = 2.5, h = 60, $fn = 24);
    }
}

// Hexagonal cells, one bore long, pushed into the pipe where it begins.
module straightener() {
    cell = min(9, bore / 7);
    web = 1;
    pitch = cell + web;
    rows = ceil(bore / pitch / 1.5);
    linear_extrude(bore) difference() {
        circle(d = bore - play);
        intersection() {
            circle(d = bore - play - 2.4);
            for (row = [-rows : rows], col = [-rows : rows])
                translate([(col + (row % 2) / 2) * pitch, row * pitch * sqrt(3) / 2])
                    rotate([0, 0, 30]) circle(d = cell / cos(30), $fn = 6);
        }
    }
}

// Wide end down. The hose's cuff is pushed in from above, up to a shoulder, or over a spigot.
module adapter() {
    inside = socket_inner / 2;
    hose = hose_socket / 2;
    low = socket_depth + steep * (inside - bore / 2);
    high = low + cone_length;
    narrow = max(high - wall - steep * max(hose - inside, 0), low);
    // hose_socket is the inside of a socket, or the outside of a spigot
    if (hose_over > 0) rotate_extrude() polygon([
        [inside, 0], [inside, socket_depth], [bore / 2, low], [hose_bore / 2, high], [hose_bore / 2, high + cuff_depth + 8],
        [hose, high + cuff_depth + 8], [hose, high], [inside + wall, low], [inside + wall, 0],
    ]);
    else rotate_extrude() polygon([
        [inside, 0], [inside, socket_depth], [bore / 2, low], [hose_bore / 2, high], [hose, high],
        [hose, high + cuff_depth], [hose + wall, high + cuff_depth], [hose + wall, high - wall],
        [inside + wall, hose > inside ? narrow : low], [inside + wall, 0],
    ]);
}
