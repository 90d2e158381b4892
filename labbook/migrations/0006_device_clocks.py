from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('labbook', '0005_link_what_there_is'),
    ]

    operations = [
        migrations.AddField(
            model_name='device',
            name='clock_jump_s',
            field=models.FloatField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name='device',
            name='clock_jumped_at',
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name='deviceseries',
            name='clock',
            field=models.JSONField(default=dict),
        ),
    ]
